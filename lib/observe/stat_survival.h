/* stat_survival.h - how long a thermostat that has opened stays open in this house.
 *
 * Each start after an opening tells only whether it is open still, not when it closed. Of such
 * "incomplete observations" the best estimate that never rises again is found by pooling what
 * would (M. Ayer, H. Brunk, G. Ewing, W. Reid, E. Silverman, "An empirical distribution function
 * for sampling with incomplete information", Ann. Math. Statist. 26, 1955; from memory). Physics
 * counts as what was seen before anything was: a tank that nobody draws from loses heat, and its
 * thermostat closes when that has used up its hysteresis. */
#ifndef SLUICE_OBSERVE_STAT_SURVIVAL_H
#define SLUICE_OBSERVE_STAT_SURVIVAL_H

#include <stdint.h>

enum { SURVIVAL_SPELLS = 18, SURVIVAL_WHOLE = 1000000000 };

struct stat_survival {
    int32_t tried_milli[SURVIVAL_SPELLS]; /* starts so long after an opening, thousandths */
    int32_t open_milli[SURVIVAL_SPELLS];  /* of these, when it was open still */
};

/* In which spell after an opening a moment lies: bits of a set of those that were tried. */
uint32_t survival_spell_bit(int64_t after_ms);

/* A start drew again, `after_ms` after the opening; at those in `tried_bits` it had been open. */
void survival_note(struct stat_survival *survival, uint32_t tried_bits, int64_t after_ms);

/* How likely an opening lasts longer than after_ms, of SURVIVAL_WHOLE; at least 1.
 * standing_ms: what physics says of a tank left alone. */
int64_t survival_at(const struct stat_survival *survival, int64_t standing_ms, int64_t after_ms);

#endif
