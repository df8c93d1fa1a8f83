"""A reference in C99 for the two laws that whole numbers compute exactly, and a program that replays the vectors.

Whole numbers only, no memory from the heap, no clock: time is what the caller makes of it.
"""

from collections.abc import Sequence
from typing import Final

from sim.export.constants import Constants

AROUND: Final = ("LargestMove", "Finish", "Retry")
"""Rules that the reference knows, innermost first."""
LAWS: Final = {
    "BangBang": "    return error > 0 ? -pegloop_step_millideg[string] : pegloop_step_millideg[string];",
    "Proportional": "    return -rounded((int64_t)pegloop_gain_microdeg_per_cent[string] * error, 1000000);",
}
"""Law -> its turn in millidegrees for an error beyond the deadband."""


def has_reference(strings: Sequence[Constants]) -> bool:
    """Return whether law and rules of every string are those that the reference knows."""
    return all(each.layers[0] in LAWS and each.layers[1:] == AROUND for each in strings)


def declared() -> str:
    """Return ``reference.h``."""
    return """#ifndef PEGLOOP_REFERENCE_H
#define PEGLOOP_REFERENCE_H
#include <stdint.h>

enum { PEGLOOP_LISTEN, PEGLOOP_TURN, PEGLOOP_SPIN, PEGLOOP_STOP, PEGLOOP_PLUCK, PEGLOOP_DONE, PEGLOOP_GIVE_UP };

typedef struct { int32_t in_a_row; int32_t missed; } pegloop_memory;
typedef struct { int32_t heard; int32_t moving; int32_t error_millicents; } pegloop_reading;
typedef struct { int32_t answer; int32_t amount; } pegloop_command; /* amount: millidegrees of a turn */

/* A memory of zeros is that of a controller just switched on; string counts from 0. */
pegloop_command pegloop_update(pegloop_memory *memory, int string, pegloop_reading reading);

#endif
"""


def reference(strings: Sequence[Constants]) -> str:
    """Return ``reference.c``. Raises ``KeyError`` for a law without one; ask ``has_reference`` first."""
    return _REFERENCE.replace("@LAW@", LAWS[strings[0].layers[0]])


def replay() -> str:
    """Return ``replay.c``: reads vectors from standard input, says how many agree, fails unless all do."""
    return _REPLAY


_REFERENCE: Final = """#include "constants.h"
#include "reference.h"

static int32_t magnitude(int32_t value) { return value < 0 ? -value : value; }

/* Nearest whole number, halves away from zero. */
static inline int64_t rounded(int64_t value, int64_t by)
{
    return value < 0 ? -((-value + by / 2) / by) : (value + by / 2) / by;
}

static int64_t law(int string, int64_t error)
{
    (void)rounded;
@LAW@
}

static int64_t clamped(int string, int64_t turn)
{
    const int64_t most = pegloop_largest_move_angle_millideg[string];
    return turn > most ? most : turn < -most ? -most : turn;
}

pegloop_command pegloop_update(pegloop_memory *memory, int string, pegloop_reading reading)
{
    pegloop_command command = {PEGLOOP_LISTEN, 0};
    if (!reading.heard) {
        if (reading.moving) memory->in_a_row = 0;
        memory->missed += 1;
        command.answer = memory->missed > pegloop_retry_most_missed[string] ? PEGLOOP_GIVE_UP : PEGLOOP_PLUCK;
        return command;
    }
    memory->missed = 0;
    const int32_t size = magnitude(reading.error_millicents);
    if (size > pegloop_deadband_millicents[string]) {
        command.answer = PEGLOOP_TURN;
        command.amount = (int32_t)clamped(string, law(string, reading.error_millicents));
    }
    const int still = command.answer == PEGLOOP_LISTEN && !reading.moving;
    const int inside = size <= pegloop_finish_tolerance_millicents[string];
    memory->in_a_row = inside && still ? memory->in_a_row + 1 : 0;
    if (memory->in_a_row >= pegloop_finish_readings[string]) {
        command.answer = PEGLOOP_DONE;
        command.amount = 0;
    }
    return command;
}
"""

_REPLAY: Final = """#include <stdio.h>
#include "reference.h"

int main(void)
{
    char line[256];
    long all = 0, agree = 0;
    pegloop_memory memory = {0, 0};
    if (!fgets(line, sizeof line, stdin)) return 1; /* the names of the columns */
    while (fgets(line, sizeof line, stdin)) {
        int string, start, heard, moving, error, answer, amount;
        if (sscanf(line, "%d,%d,%d,%d,%d,%d,%d", &string, &start, &heard, &moving, &error, &answer, &amount) != 7)
            return 1;
        if (start) memory = (pegloop_memory){0, 0};
        const pegloop_command found = pegloop_update(&memory, string, (pegloop_reading){heard, moving, error});
        all += 1;
        agree += found.answer == answer && found.amount == amount;
    }
    printf("%ld of %ld vectors agree\\n", agree, all);
    return all == 0 || agree != all;
}
"""
