"""The smallest changes of marked dimensions after which every rule of a machine holds, each swept in full."""
