"""What the firmware decides. Sees readings and its own numbers, never the plant."""

CONTROLLERS = {
    "bang-bang": "controllers.bang_bang:BangBang",
    "bang-bang-spin": "controllers.bang_bang_spin:BangBangSpin",
    "two-step": "controllers.two_step:TwoStep",
    "halving": "controllers.halving:Halving",
    "proportional": "controllers.proportional:Proportional",
    "proportional-spin": "controllers.proportional_spin:ProportionalSpin",
    "proportional-integral": "controllers.proportional_integral:ProportionalIntegral",
    "inverse": "controllers.inverse:Inverse",
    "secant": "controllers.secant:Secant",
    "cautious-secant": "controllers.secant:Secant",
}
