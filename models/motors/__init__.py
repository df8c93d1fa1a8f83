"""Motors: one kind a file; ``base`` has the contract."""

MOTORS = {
    "ideal": "models.motors.ideal:IdealMotor",
    "continuous-servo": "models.motors.continuous_servo:ContinuousServo",
    "gear-motor": "models.motors.gear_motor:GearMotor",
    "servo": "models.motors.servo:PositionalServo",
    "stepper": "models.motors.stepper:Stepper",
}
