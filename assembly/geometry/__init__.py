"""Shapes at rest: meshes with their surface error, parametric shapes, mesh files, booleans, inside tests."""
