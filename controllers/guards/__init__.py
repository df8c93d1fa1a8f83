"""Guards: they watch independently of the controller and can stop the drive."""

GUARDS = {
    "largest-turn": "controllers.guards.largest_turn:LargestTurn",
    "tightening-budget": "controllers.guards.tightening_budget:TighteningBudget",
    "pitch-ceiling": "controllers.guards.pitch_ceiling:PitchCeiling",
    "no-response": "controllers.guards.response:NoResponse",
    "wrong-direction": "controllers.guards.response:WrongDirection",
    "rejected-readings": "controllers.guards.rejected_readings:RejectedReadings",
    "silence": "controllers.guards.silence:Silence",
    "motor-current": "controllers.guards.motor_current:MotorCurrent",
    "supply-voltage": "controllers.guards.supply_voltage:SupplyVoltage",
    "power-up": "controllers.guards.power_up:PowerUp",
    "hand-switch": "controllers.guards.hand_switch:HandSwitch",
}
"""Where each kind of guard lives, by the name that it goes by."""
