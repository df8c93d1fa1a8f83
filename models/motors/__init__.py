"""Motors: one kind a file; ``base`` has the contract."""

MOTORS = {
    "ideal": "models.motors.ideal:IdealMotor",
    "servo": "models.motors.servo:PositionalServo",
}
