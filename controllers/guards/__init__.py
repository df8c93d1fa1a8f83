"""Guards: they watch independently of the controller and can stop the drive."""

GUARDS = {
    "largest-turn": "controllers.guards.largest_turn:LargestTurn",
}
"""Where each kind of guard lives, by the name that it goes by."""
