"""What ``pegloop explain`` says of outcomes, measures and terms: two sentences each."""

OUTCOMES = {
    "finished": "The controller believed that the string was in tune and stopped. Whether it really was is said by "
    "the measure in_tune.",
    "gave up": "The controller saw no way on, usually because too many readings in a row were missed. Pluck louder, "
    "come closer, or lower the ear's floor.",
    "time limit": "The run took longer than the task allows and counts as unfinished. Larger steps, a higher gain or "
    "a faster ear help, or more seconds.",
    "pluck limit": "The run would have needed more plucks than the task allows and counts as unfinished. The step may "
    "exceed the band, so that the pitch hops over it, or be so small that the way is long.",
    "string broke": "Tension reached the breaking tension of this specimen's string, and the run ended there. Clamp "
    "the largest move below the reserve, and doubt single readings.",
    "stalled": "The load grew to the motor's stall torque and the shaft stood still. More torque, a higher gear ratio "
    "or less friction in the worm help.",
    "travel used up": "The motor came to the end of its travel where re-gripping is not allowed. Allow re-gripping, or "
    "take a motor that turns further.",
    "crashed": "The controller raised an error, hung, left, took too much memory, or answered with no command; "
    "pegloop run says which. The run is kept and counted, and the command ends with exit code 3.",
    "guard tripped": "A guard of the rig file stopped the machine; pegloop run says which. Look for the cause before "
    "you try again, and widen the guard's limit where the machine was sound.",
}

MEASURES = {
    "in_tune": "The truth: finished, unbroken, and the true error within the tolerance, also once plucks have "
    "relaxed the nut. It does not depend on what the machine heard.",
    "finished": "The controller's belief that the string is in tune. Finished but not in tune is counted on its own.",
    "finished_not_in_tune": "Runs in which the machine believed in success and was wrong. These are the dangerous "
    "ones, because nobody is told.",
    "specimens_meeting": "Machines of which at least the required share of tunings ended in tune while no string "
    "broke. The required share is [require] tuned_share, or 0.9 where the rig requires nothing.",
    "whole_instrument": "Tunings of a whole machine in which every string ended in tune. It is lower than the share of "
    "single strings, because one bad string is enough.",
    "final_error_cents": "True pitch error at the end of the run in cents, positive = sharp. Comparisons show its size "
    "without the sign.",
    "relaxed_error_cents": "True pitch error in cents once plucks have evened out the tension over nut and "
    "saddle. A run is in tune only if this error, too, lies within the tolerance.",
    "plucks": "How often the string was plucked until the run ended. In quantiles, a broken or unfinished run counts "
    "as beyond the limit.",
    "readings": "How many windows the ear delivered, heard or not. One pluck may give several.",
    "seconds": "Simulated time until the run ended, with the player's pauses. In quantiles, a broken or unfinished run "
    "counts as beyond the limit.",
    "overshoot_cents": "How far the true pitch went beyond the target after first crossing it, in cents. It is 0 when "
    "the target was never crossed.",
    "settling_s": "The instant after which the true error stayed within the tolerance, in seconds. It does not apply "
    "to a run that ends outside.",
    "reversals": "How often the turning changed its direction. Each one takes up backlash and slop again.",
    "turned_deg": "Sum of all turns of the gripped shaft in degrees, both ways. Strokes back between grips are left "
    "out.",
    "energy_j": "Electrical energy taken from the supply during the run, in joules: motor turning, motor holding, and "
    "the unit if it shares the supply. Heat inside the supply is in it.",
    "charge_c": "Charge taken from the supply during the run, in coulombs, of all that energy_j counts. A battery's "
    "capacity in Ah times 3600, over the charge of all strings, is how often it tunes the instrument.",
    "percent_of_breaking": "Highest tension of the run in percent of that specimen's breaking tension. 100 means that "
    "the string broke.",
    "broken": "Strings that broke, as a count of runs. None observed is shown with the share that could still hide "
    "behind so few machines.",
    "regrips": "How often the player set the coupler anew because the motor's travel was used up. Each costs a hand's "
    "time and a new position in the slop.",
    "visits": "Tunings of this string in one session, which comes back until a pass finds every string in tune. "
    "It is 1 where each string is tuned by itself.",
    "start_cents": "True pitch error before tuning in cents, drawn for each tuning of a machine. Every strategy starts "
    "from the same one.",
}

TERMS = {
    "bench": "At most eight measurements with household means that settle what a rig file leaves open. pegloop bench "
    "says what to do and what each should read, and --out writes a log to fill in.",
    "band": "The readings, from low to high, that 95 of 100 machines of a rig would give. A reading outside it means "
    "that a part is not what the rig file says, or that the model is wrong.",
    "rig": "Everything that is simulated: instrument, heads, drive, hearing and strategies. A rig file describes it in "
    "TOML.",
    "specimen": "One machine as built: its unknown values drawn from their ranges. All strategies meet the same "
    "specimens.",
    "machine": "In tables, another word for specimen. See specimen.",
    "head": "Tuning head: knob, gear and post. A friction peg is a head without a gear.",
    "coupler": "Grips the knob and is turned by the motor. It has slop, gives way, may slip, and can be gripped anew.",
    "drive": "Supply, motor and coupler together. It carries out the controller's commands.",
    "player": "Whoever plucks, re-grips and carries the drive from peg to peg. Times are drawn from a distribution.",
    "pluck": "One excitation of a string; it decays with the string's own time constant. Below the ear's floor nothing "
    "is heard any more.",
    "ear": "The way from a pluck's sound to a reading: microphone, front end, converter, detector, acceptance, "
    "latency. Two ears serve: the statistical one draws its errors, the signal one computes them from the sound.",
    "statistical ear": "An ear known by its errors alone: bias, spreads, octaves, misses, delay. It is fast, and as "
    "right as its table; pegloop hear --fit measures one.",
    "signal ear": "An ear that works on the simulated sound: partials, microphone, circuit, converter, detector. Ask "
    "for it with --ear signal.",
    "detector": "Pitch detector: samples in, an estimate out. It has no memory and no clock.",
    "estimate": "What a detector makes of one window: a pitch, or nothing heard, and a periodicity. Acceptance makes "
    "a reading of it, or not.",
    "acceptance": "What makes an estimate a reading: checks of clipping, level, periodicity, distance from the target, "
    "octave, agreement, in a stated order. It is the firmware's doubt of its own detector.",
    "gate": "The distance from the target beyond which no pitch is believed, and none is searched. It keeps the "
    "octaves out: the tallest line of a low string's spectrum is often its second partial.",
    "window": "A row of samples from which one estimate is made. Longer windows hear finer and later.",
    "hop": "Time from the start of one window to the start of the next. Windows may overlap.",
    "periodicity": "How much a window repeats itself, from 0 (noise) to 1 (pure). 0.5 is as much noise as string, 0.8 "
    "is a string 6 dB above the noise.",
    "gross error": "An estimate more than 50 cents off: an octave up or down, or some other wrong pitch. Such errors "
    "are counted, never averaged.",
    "bound": "The smallest spread that any unbiased detector can have in that noise, after Cramer and Rao. Beats, "
    "glide and clock come on top.",
    "glide": "After a pluck the pitch starts some cents sharp and sinks within a second. A reading taken early is "
    "sharp by as much, and a machine that trusts it tunes flat.",
    "beats": "A string vibrates in two planes of slightly different pitch, which beat. No detector can tell them apart "
    "in one window.",
    "aliasing": "A partial above half the sample rate appears folded below it, at a wrong frequency. Only a filter "
    "before the converter keeps it out.",
    "inharmonicity": "Partials of a stiff string lie sharp of whole multiples, the more the higher. Detectors of "
    "the period therefore read sharp of the first partial.",
    "reading": "What the controller gets for one window, heard or not. It carries the time of the window's centre and "
    "of its arrival.",
    "controller": "Decides the next command from readings alone. It never sees the true pitch.",
    "strategy": "A named controller with its parameters, for all strings or each. One kind may appear several times, "
    "such as coarse and fine.",
    "law": "How a controller decides: a formula from readings to the next command. pegloop parts KIND shows its "
    "parameters.",
    "wrapper": "A rule that goes around any law: deadband, finish from below, take-up, slew, largest move, finish, "
    "median, retry. A strategy asks for one by a key, such as take_up_deg.",
    "belief": "What a controller takes for true of the plant, as a parameter of its own: believed_cents_per_deg. "
    "0 is told by the rig, each range at its middle; the specimen may differ.",
    "take-up": "A turn after a change of direction goes further by the drive's play. Too large a one overshoots each "
    "time.",
    "anti-windup": "Keeps the sum of errors from growing while moves are cut short or nothing moves. Otherwise it "
    "overshoots when it comes back.",
    "secant": "Learns cents per degree from the turn before and divides the error by it. It must not learn from noise "
    "or from play.",
    "unit": "What the loop talks to: a controller in a machine that can lose power. Later this may be firmware.",
    "guard": "Watches independently of the controller and can stop the drive. It never changes a reading.",
    "fault": "A defect on one seam of the rig. It is put in on purpose, to see what the machine makes of it.",
    "design sheet": "What pegloop sheet says before any run: each need of the machine against what there is for it, "
    "with the smallest change that would make it fit. It is arithmetic at the target pitch, not a simulation.",
    "margin": "How many times a need is met. Fits is 1.5 times in the middle of all ranges and once in their worst "
    "corner, tight is less than that.",
    "worst corner": "Every value that is not known at the end of its range that makes a margin smallest, all at once. "
    "Few machines are as bad.",
    "least step": "The smallest change of pitch that is sure to come when it is asked for: of the motor, or of a "
    "string that sticks in its nut. It should fit into the band of two tolerances.",
    "error budget": "What keeps the pitch from its target after the machine has finished, share by share, for 95 of "
    "100 tunings. One-sided shares add up with their signs, spreads in squares; of motor step and deadband the wider "
    "counts.",
    "one-sided": "A share of the error budget that moves every tuning the same way, such as the ear's bias. It can be "
    "corrected; a spread cannot.",
    "task": "Target, tolerance, finish rule, and limits of time and plucks. It is what the user wishes, not what the "
    "machine can do.",
    "tolerance": "The largest true error that still counts as in tune: the task's wish. The controller's own band is "
    "the deadband.",
    "deadband": "The band of readings in which a controller does not move. A step of more cents than its two sides "
    "together may hop over it for ever.",
    "run": "One tuning of one string. The motor command is called spin, never run.",
    "tuning": "One run of every string of a machine, each from its own drawn start. --tunings says how often each "
    "machine is tuned.",
    "trace": "All that happened in a run: motions, readings, commands, both pitches, tension. Measures are computed "
    "from it.",
    "outcome": "How a run ended: one of a closed list. Each comes with a sentence of advice.",
    "sweep": "One rig under several values of one or two numbers, on the same machines, plucks and noise. It says "
    "which value to take and how far it may be off.",
    "region": "The values of a sweep that meet what is required. Meets is with the whole interval, likely only as far "
    "as counted.",
    "recommended": "The value with the fewest plucks in the widest unbroken region that meets what is required; less "
    "than one pluck apart counts as equal. Of equals the one nearest to the middle of the region is taken.",
    "unknown": "A number that a rig leaves open: a range. pegloop unknowns says how much of the spread of error, "
    "plucks and tension each one is to blame for.",
    "series": "Many runs: a comparison, for example. One line a run goes to the journal as it finishes.",
    "dead time": "Wait after a move before listening, so that gears and string calm down. Settling is something else: "
    "a measure.",
    "settling": "The instant after which the error stayed within tolerance. See settling_s.",
    "creep": "A new string goes on stretching after it was tuned, and falls: by as many cents each time its age grows "
    "tenfold. [creep] describes it.",
    "session": "One tuning of all strings, in passes, on a body that gives way: as one string rises the others "
    "fall. It ends when a pass finds every string in tune.",
    "pass": "One round of a session over all strings. A floating bridge takes more of them than a fixed one.",
    "relaxing": "Plucks even out the tension over nut and saddle, and the pitch moves after the machine has "
    "finished. See relaxed_error_cents.",
    "brown-out": "The supply's voltage falls below what the unit needs, at once the motion is cut. The unit "
    "starts again without what it kept in memory.",
    "turning sense": "Which way a knob tightens, seen from its end. A machine that does not know it finds out by "
    "one small move, or gives up.",
    "cents": "Errors in pitch: 1200 times the base-2 logarithm of frequency over target, positive = sharp. A semitone "
    "is 100 cents.",
    "backlash": "Play in the gear: after a change of direction the knob turns so far before the post follows. The "
    "string's tension keeps it on one side until then.",
    "slop": "Play between coupler and knob. Like backlash, it is taken up anew after each change of direction.",
    "stroke": "A part of a turn that fits into the motor's travel. Between strokes the coupler is gripped anew.",
    "reserve": "How many cents above the target a string breaks. The largest move should stay well below it.",
    "first partial": "The lowest partial of the sound, slightly sharp of an ideal string's because of stiffness. The "
    "task says whether the target means it or the effective pitch.",
    "effective pitch": "The pitch that a period detector hears in a stiff string, above its first partial. The task "
    "says which one the target means.",
    "octave error": "A reading an octave too low or too high. One such reading, believed, can break a string.",
    "latency": "Time from a window's centre to the reading's arrival: half window, hop, computing and link. Listening "
    "while turning overshoots by speed times latency.",
    "interval": "The range that holds the true share or mean in 95 of 100 such simulations. It covers chance, not "
    "errors of the model.",
    "not resolved": "The interval does not tell whether a requirement is met or which is better. More machines "
    "(--rigs) narrow it.",
    "assumed": "A value that the rig file does not give and the library does, with its source. pegloop check lists "
    "them all.",
    "test vector": "A reading and the command that answers it, as whole numbers that pegloop export writes. Firmware "
    "replays them, and every answer must be the same.",
    "acceptance plan": "How many tunings in a row without failure show that the real machine succeeds as often as "
    "required, and what the simulation lets one expect of them. pegloop export --out DIR writes it.",
    "theory": "Critical gain, limit cycle, reachable error: what formulas say of a loop before it runs, by pegloop "
    "sheet --theory. With --verify the simulation stands beside it and says why they differ.",
    "loop gain": "Share of an error that one decision takes away: the law's gain times the true slope. Above the "
    "critical gain the loop swings for ever; a delay lowers that.",
    "slope": "Cents of pitch per degree of the shaft at the target. It differs tenfold between strings, and a law that "
    "believes another one goes too far or not far enough.",
    "delay": "Decisions between a move and the first reading that shows it. 0 where the machine turns, waits and only "
    "then listens.",
    "limit cycle": "A hunt to and fro that never ends, as of a step too large for its band. Without a band it goes "
    "over 2d+1 steps in 4d+2 readings, at a delay of d.",
}

SECTIONS = {
    "format": "The version of the rig file's format, now 1, at the top of every file. It will rise when an old "
    "file would mean something else.",
    "instrument": "The table of the instrument as a whole: part, tuning, strings, reference pitch and start. "
    "Without it the library's default instrument is taken, unless [strings] describes one of your own.",
    "strings": "A table for each string that differs from the library's, or that the library does not have. "
    "What is left out comes from the library, or is computed from gauge, core and material.",
    "strategies": "A table for each strategy: its kind, the parameters of its law, and how it is driven. One "
    "kind may appear several times under different names.",
    "guards": "A table for each thing that can stop the machine: its kind, and those of its limits that you want to "
    "set yourself. The others are derived from the rig, string by string; pegloop faults prints their rules.",
    "faults": "A table for each thing that is wrong with the machine: its kind, when it acts, its numbers. pegloop "
    "faults tries every kind in turn against every guard.",
    "require": "What you ask of a machine: share in tune, plucks, seconds, percent of breaking. A comparison "
    "then answers meets, fails, or not resolved with the machines it would take.",
    "price_eur": "What a part costs in euros, in the table of a section that is bought, such as [motor]; of heads, all "
    "together. Without it the library's dated estimate is taken, and a part without a price is not free.",
    "part": "The entry of the library that a table starts from; pegloop parts lists them. Keys in the table win "
    "over the part's values.",
    "kind": "The control law of a strategy: a shipped one, or the name given with --controller. Its own "
    "parameters stand in the same table.",
    "nut": "The table of the grooves at nut and saddle: friction, bends, and how far a pluck relaxes them. "
    "Without it the instrument's usual ones are taken.",
    "body": "The table of how far the body gives way to the strings. Only a session reads it; without it the "
    "instrument's usual one is taken.",
    "session": "The table of how one machine comes to all strings: carried or not, its time, the most passes. Its"
    " order lists all strings; --order does the same.",
    "creep": "The table of how strings settle, for all or by string. Without it they have settled.",
    "climate": "The table of what string and body warm up or cool down by during a run, each at its own pace. Without "
    "it nothing does.",
    "ear": 'The table of the statistical ear: its spreads, shares and delays. file = "FILE" takes those that pegloop '
    "hear --fit measured.",
    "acceptance": "The table of what makes an estimate a reading, after either ear. Its order names the stages in use.",
    "sound": "The table of how the plucked instrument sounds: level, glide, beats, neighbours. Only the signal ear "
    "hears it.",
    "detector": "The table of the pitch detector: a part of the library, or the name given with --detector. Only the "
    "signal ear uses it.",
    "by_string": "A table inside [head], [nut], [creep], [climate], [ear], [sound] or a strategy with values for "
    "single strings. They win over the values for all.",
    "tuning": "Which targets the strings of a library instrument have, such as equal or pure-fifths. A string's "
    "own target wins over it.",
}
