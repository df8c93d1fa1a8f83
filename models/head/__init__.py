"""Tuning heads: one kind a file; ``base`` has the contract. The play operator, and friction at nut and saddle."""

HEADS = {
    "fine-adjuster": "models.head.fine_adjuster:FineAdjuster",
    "friction-peg": "models.head.friction_peg:FrictionPeg",
    "geared": "models.head.gear:Head",
}
