/* judge.h - what a step's evidence comes to, from numbers alone.
 *
 * Pure: no clock, no daemon. What cannot be told from them is not told. */
#ifndef SLUICE_TOOLS_JUDGE_H
#define SLUICE_TOOLS_JUDGE_H

#include <stdint.h>

#include "outcome.h"
#include "sluice/live/test_verdict.h"

/* A test of a load, as far as the steps look at it. */
struct load_evidence {
    enum test_outcome outcome;
    int64_t power_w;
    bool seen;       /* the grid meter showed a step */
    bool has_phases; /* of each phase */
    int64_t phase_w[TEST_PHASES];
    uint8_t phases; /* as configured; bit 0 is L1 */
};

/* Its output, its power and its phase. */
enum step_outcome judge_output(const struct load_evidence *evidence);

/* Whether import rose as it was switched on. STEP_OPEN: this load says nothing of it. */
enum step_outcome judge_sign(const struct load_evidence *evidence);

/* Whether it was seen on `phase` (0..2), on which it is configured. STEP_OPEN: it says nothing. */
enum step_outcome judge_phase(const struct load_evidence *evidence, int phase);

/* Within the band that supplies keep to. */
bool judge_voltage(int64_t voltage_mv, int64_t nominal_mv);

/* Solar power at that hour of the local day; `says` in words. */
enum step_outcome judge_solar(int64_t power_w, int hour, struct text *says);

/* What the house takes besides: grid and solar less what charges the battery. No house feeds. */
bool judge_balance(int64_t grid_w, int64_t solar_w, int64_t battery_w);

#endif
