"""What the firmware decides. Sees readings and its own numbers, never the plant."""

CONTROLLERS = {
    "bang-bang": "controllers.bang_bang:BangBang",
    "bang-bang-spin": "controllers.bang_bang_spin:BangBangSpin",
    "proportional": "controllers.proportional:Proportional",
    "proportional-spin": "controllers.proportional_spin:ProportionalSpin",
}
