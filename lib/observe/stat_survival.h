/* stat_survival.h - how long a thermostat that has opened stays open in this house.
 *
 * Learnt from each first start after an opening that drew again: it had closed by then, and was
 * open at the attempts before. The product over spells of the share that lasted through each
 * (E. Kaplan and P. Meier, "Nonparametric estimation from incomplete observations", J. Amer.
 * Statist. Assoc. 53, 1958), with physics as what was seen before anything was: a tank that nobody
 * draws from loses heat, and its thermostat closes when that has used up its hysteresis. */
#ifndef SLUICE_OBSERVE_STAT_SURVIVAL_H
#define SLUICE_OBSERVE_STAT_SURVIVAL_H

#include <stdint.h>

enum { SURVIVAL_SPELLS = 18, SURVIVAL_WHOLE = 1000000000 };

struct stat_survival {
    int32_t lasted_milli[SURVIVAL_SPELLS]; /* openings that had reached this spell, thousandths */
    int32_t ended_milli[SURVIVAL_SPELLS];  /* and ended in it */
};

/* A start drew again, `after_ms` after the opening. */
void survival_note(struct stat_survival *survival, int64_t after_ms);

/* How likely an opening lasts longer than after_ms, of SURVIVAL_WHOLE; at least 1.
 * standing_ms: what physics says of a tank left alone. */
int64_t survival_at(const struct stat_survival *survival, int64_t standing_ms, int64_t after_ms);

#endif
