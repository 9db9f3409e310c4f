/* finding_input.h - what the findings are told of the engine: its settings, and after each turn
 * what it knows of each load.
 *
 * Pure: no clock, no allocation. Whoever runs the engine (the daemon, a bench) uses these, so
 * that what a bench measures is what a house gets. */
#ifndef SLUICE_VALUES_FINDING_INPUT_H
#define SLUICE_VALUES_FINDING_INPUT_H

#include "observe/findings.h"
#include "rules/rules.h"

/* `loads` is the caller's, load_count of them, kept by reference. */
struct findings_settings finding_settings(const struct rules_settings *rules,
                                          struct findings_load_settings loads[]);

/* After rules_turn, of the same turn. `loads` is filled, load_count of them, and kept by
 * reference, as is what `input` and `outcome` hold. */
struct findings_input
finding_input(const struct rules_settings *rules, const struct rules_memory *memory,
              const struct rules_input *input, const struct decision decisions[],
              const struct rules_outcome *outcome, struct findings_load loads[]);

#endif
