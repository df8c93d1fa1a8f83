"""What ``pegloop`` and ``pegloop --help`` print. Imports nothing, so that help answers at once."""

NEXT_STEPS = """\
pegloop simulates a machine that tunes stringed instruments with a motor.
Three next steps:
  pegloop compare             which strategy tunes a guitar, and how surely
  pegloop run --string E2     one string, told step by step
  pegloop new my-rig.toml     a rig file of your own, to edit and check
All commands: pegloop --help"""

HELP = """\
usage: pegloop COMMAND [options]

A machine that tunes stringed instruments with a motor, simulated.

describe a machine
  new FILE        write a commented rig file to edit
  parts [NAME]    what the library of parts holds; one part with all values
  check RIG       is the rig file valid, what does it describe, is it hopeless
  sheet [RIG]     can it work: steps, torque, travel, hearing, and what mends it

understand
  explain WORD    a key, outcome, measure or term in two sentences

hear
  hear [RIG]      what detectors make of each string, and what would help
  hear --wav FILE a recording; --circuit: parts on paper; --fit: a fast ear

try
  run [RIG]       one tuning of one string, told step by step
  compare [RIG]   strategies and rigs over many machines, with intervals
  sweep [RIG]     which value of a number to take, how far it may be off
  unknowns [RIG]  what is not known and matters: where to measure, or to spend

doubt
  faults [RIG]    which single faults break a string, and which guard stops it

measure
  bench [RIG]     what to measure on the real rig, and what it should read

hand over
  run --out DIR       steps as CSV, timeline as SVG and PNG
  compare --out DIR   all runs, summary, findings.md, plots; can be resumed,
                      as sweep, unknowns and faults can
  export [RIG]        constants for firmware, vectors, a plan of acceptance
  bench --out DIR     a log of readings to fill in
  check --schema      JSON Schema of rig files, for editors

RIG is a file, or a ready rig such as 'default' (all: pegloop parts).
Options of one command: pegloop COMMAND --help. Version: pegloop --version
Exit codes: 0 done, 1 a verdict failed, 2 bad usage or file, 3 a run crashed,
4 internal error, 130 interrupted."""
