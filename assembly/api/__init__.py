"""What the commands can do, as functions from a machine to plain values; ``import assembly`` gives the common ones."""
