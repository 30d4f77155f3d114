"""Machines of two parts of which one must be ground, with closed forms of how deep (own models)."""

import numpy as np

ROLLER = """
format = 1
name = "Plane and roller"
facet_error = 0.02
[parts.bed]
fixed = true
shapes = [{ name = "slab", box = [0, 0, -3], size = [24, 12, 6] }]
[parts.roller]
shapes = [{ name = "drum", tube = [[0, -5, 6], [0, 5, 6]], diameter = 10, wall = 3 }]
[joints.guide]
slide = ["bed", "roller"]
at = [0, 0, 6]
along = [1, 0, 0]
[drives.push]
slides = { guide = 1 }
range = [-3, 3]
[clearance]
required = REQUIRED
"""
"""The drum's underside passes the slab at 1 mm: of either 2 mm must go for a clearance of 3."""

BALL = """
format = 1
name = "Ball and post"
facet_error = 0.02
[points]
post_middle = [52, 0, 0]
[parts.frame]
fixed = true
shapes = [{ name = "post", rod = [[52, 0, -12], [52, 0, 12]], diameter = 10 }]
[parts.arm]
shapes = [{ name = "ball", sphere = [40, 0, 0], diameter = 12 }]
[joints.pivot]
pin = ["frame", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.swing]
turns = { pivot = 1 }
range = [-30, 30]
[clearance]
required = 3
"""
"""A ball of radius 6 swings past a post of radius 5, their middles 12 apart at the nearest: 2 mm must go for 3."""


def must_go_from_post(points):
    """Whether points (n, 3) of the post come within 3 mm of the ball at any setting (closed form).

    Its middle goes along a circle of 40 round z, 30 degrees each way.
    """
    turn = np.clip(np.arctan2(points[:, 1], points[:, 0]), -np.pi / 6, np.pi / 6)
    middle = 40 * np.column_stack([np.cos(turn), np.sin(turn), np.zeros(len(turn))])
    return np.linalg.norm(points - middle, axis=1) - 6
