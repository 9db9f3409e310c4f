/* judge.c - the limits, and what they stand on. */
#include "judge.h"

#include "sluice/page/show.h"

enum {
    /* Supply voltage within 10 % of nominal: EN 50160, from memory. */
    VOLTAGE_PERMILLE = 100,
    /* What an inverter takes or shows with nothing to convert: common practice, no source. */
    STANDBY_W = 50,
    /* Readings of different moments: an inverter may have moved between them. */
    BALANCE_W = 300,
    /* By local time, between the polar circles: common practice, no source. */
    NIGHT_FROM = 22,
    NIGHT_TO = 4,
    DAY_FROM = 9,
    DAY_TO = 16,
};

enum step_outcome judge_output(const struct load_evidence *evidence)
{
    switch (evidence->outcome) {
    case TEST_AS_EXPECTED:
        return STEP_PASS;
    case TEST_LESS:
    case TEST_MORE:
    case TEST_NO_DRAW:
    case TEST_STAYS_ON:
    case TEST_REVERSED:
    case TEST_OTHER_PHASE:
    case TEST_OUTPUT:
        return STEP_FAIL;
    case TEST_NOT_SHOWN:
        return STEP_SKIPPED;
    default:
        return STEP_NOT_NOW;
    }
}

enum step_outcome judge_sign(const struct load_evidence *evidence)
{
    if (!evidence->seen)
        return STEP_OPEN;
    switch (evidence->outcome) {
    case TEST_AS_EXPECTED:
    case TEST_LESS:
    case TEST_MORE:
    case TEST_OTHER_PHASE:
        return STEP_PASS;
    case TEST_REVERSED:
        return STEP_FAIL;
    default:
        return STEP_OPEN;
    }
}

enum step_outcome judge_phase(const struct load_evidence *evidence, int phase)
{
    if (!evidence->seen || !evidence->has_phases || !(evidence->phases >> phase & 1))
        return STEP_OPEN;
    switch (evidence->outcome) {
    case TEST_AS_EXPECTED:
    case TEST_LESS:
    case TEST_MORE:
        /* A dead phase of a load on three may be all that is less. */
        return evidence->phase_w[phase] > STANDBY_W ? STEP_PASS : STEP_FAIL;
    case TEST_OTHER_PHASE:
    case TEST_REVERSED:
        return STEP_FAIL;
    default:
        return STEP_OPEN;
    }
}

bool judge_voltage(int64_t voltage_mv, int64_t nominal_mv)
{
    int64_t off_mv = voltage_mv > nominal_mv ? voltage_mv - nominal_mv : nominal_mv - voltage_mv;
    return off_mv * 1000 <= nominal_mv * VOLTAGE_PERMILLE;
}

enum step_outcome judge_solar(int64_t power_w, int hour, struct text *says)
{
    bool night = hour >= NIGHT_FROM || hour < NIGHT_TO, day = hour >= DAY_FROM && hour < DAY_TO;
    show_power(says, power_w);
    if (power_w < -STANDBY_W) {
        text_add(says, ": solar power is positive; possible: its meter is wired the other way "
                       "round (inverted: yes), or it is not the solar meter");
        return STEP_FAIL;
    }
    if (night && power_w > STANDBY_W) {
        text_add(says, " at night: possible: it is not the solar meter, or a battery feeds "
                       "through the same inverter");
        return STEP_FAIL;
    }
    if (power_w > STANDBY_W) {
        text_add(says, ", plausible at this hour");
        return STEP_PASS;
    }
    text_add(says, night ? ", as it should be at night; whether it rises with the sun cannot be "
                           "shown now"
                   : day ? " by day: the sky may be dark, the array covered or the inverter off; "
                           "whether it rises with the sun cannot be shown now"
                         : ": the sun may be too low; whether it rises with the sun cannot be "
                           "shown now");
    return STEP_NOT_NOW;
}

bool judge_balance(int64_t grid_w, int64_t solar_w, int64_t battery_w)
{
    return grid_w + solar_w - battery_w >= -BALANCE_W;
}
