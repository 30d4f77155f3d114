"""What would cure a failing pair: each change is swept before it is reported."""
