/* test_verdict.c - the looks of a test, judged.
 *
 * Another appliance may switch in the very moment of a look, so no single look is believed of a
 * load that can be switched again: what counts is the power on which most looks agree. Of an
 * element the resistance tells more than the power, as the voltage is not the nameplate's:
 * R = U^2 / P. Its tolerance is as in the rest of the program (12 % off the nameplate is told);
 * that a motor's nameplate says its shaft power is common practice, no source. */
#include "test_verdict.h"

#include <inttypes.h>
#include <stdlib.h>

#include "sluice/page/show.h"

enum {
    AGREE_PERCENT = 10, /* and AGREE_W */
    AGREE_W = 50,
    ELEMENT_PERMILLE = 120,
    UNMEASURED_PERMILLE = 200, /* the voltage is not known: 10 % of it are 20 % of the power */
    MOTOR_PERMILLE = 400,
};

int test_phase_count(uint8_t phases)
{
    int count = 0;
    for (int p = 0; p < TEST_PHASES; p++)
        count += phases >> p & 1;
    return count;
}

static int64_t magnitude_w(const struct test_look *look)
{
    return look->stop ? -look->step_w : look->step_w;
}

static bool agree(int64_t a_w, int64_t b_w)
{
    return llabs(a_w - b_w) <= llabs(a_w) * AGREE_PERCENT / 100 + AGREE_W;
}

static bool agrees(const struct test_look *look, int64_t power_w)
{
    return look->seen == LOOK_CLEAR && agree(power_w, magnitude_w(look));
}

static int count_clear(const struct test_look looks[], int count)
{
    int clear = 0;
    for (int k = 0; k < count; k++)
        clear += looks[k].seen == LOOK_CLEAR;
    return clear;
}

/* The look that most others agree with; -1: there is no clear one. */
static int most_agreed(const struct test_look looks[], int count, int *agreeing)
{
    int best = -1;
    *agreeing = 0;
    for (int k = 0; k < count; k++) {
        int with = 0;
        for (int j = 0; looks[k].seen == LOOK_CLEAR && j < count; j++)
            with += agrees(&looks[j], magnitude_w(&looks[k]));
        if (with > *agreeing) {
            *agreeing = with;
            best = k;
        }
    }
    return best;
}

/* Means over the looks that agree with `power_w`. */
static void take_means(const struct test_look looks[], int count, int64_t power_w,
                       struct test_verdict *verdict)
{
    int64_t sum_w = 0, sum_mv[2] = {0}, phase_w[TEST_PHASES] = {0};
    int with_voltage[2] = {0}, with_phases = 0;
    for (int k = 0; k < count; k++) {
        if (!agrees(&looks[k], power_w))
            continue;
        sum_w += magnitude_w(&looks[k]);
        with_voltage[looks[k].stop] += looks[k].voltage_mv > 0;
        sum_mv[looks[k].stop] += looks[k].voltage_mv;
        with_phases += looks[k].has_phases;
        for (int p = 0; looks[k].has_phases && p < TEST_PHASES; p++)
            phase_w[p] += looks[k].stop ? -looks[k].phase_step_w[p] : looks[k].phase_step_w[p];
    }
    verdict->power_w = sum_w / verdict->agreeing;
    /* while it draws, if that was seen: a stop is told with the voltage after it */
    bool stop = with_voltage[0] == 0;
    verdict->voltage_mv = with_voltage[stop] > 0 ? sum_mv[stop] / with_voltage[stop] : 0;
    verdict->has_phases = with_phases > 0;
    for (int p = 0; with_phases > 0 && p < TEST_PHASES; p++)
        verdict->phase_w[p] = phase_w[p] / with_phases;
}

/* ---- what it means ----------------------------------------------------------------------- */

static void find(struct test_verdict *verdict, enum test_outcome outcome, enum finding_kind kind,
                 int64_t a, int64_t b, int64_t c)
{
    verdict->outcome = outcome;
    verdict->finding = (struct finding){.kind = (uint8_t)kind, .number = {a, b, c, -1}};
}

static int64_t element_mohm(int64_t voltage_mv, int64_t power_w, int phases)
{
    return power_w > 0 ? voltage_mv * voltage_mv / 1000 * phases / power_w : 0;
}

static void measure_element(const struct test_subject *subject, struct test_verdict *verdict)
{
    int phases = test_phase_count(subject->phases);
    if (!subject->resistive)
        return;
    verdict->expected_mohm = element_mohm(subject->nominal_mv, subject->nameplate_w, phases);
    if (verdict->voltage_mv > 0)
        verdict->element_mohm = element_mohm(verdict->voltage_mv, verdict->power_w, phases);
}

/* Its power by the nameplate's voltage, against the nameplate. */
static int64_t part_permille(const struct test_subject *subject, const struct test_verdict *verdict)
{
    if (verdict->element_mohm > 0)
        return verdict->expected_mohm * 1000 / verdict->element_mohm;
    return verdict->power_w * 1000 / subject->nameplate_w;
}

static void judge_power(const struct test_subject *subject, struct test_verdict *verdict)
{
    int64_t part = part_permille(subject, verdict);
    int64_t off = !subject->resistive         ? MOTOR_PERMILLE
                  : verdict->element_mohm > 0 ? ELEMENT_PERMILLE
                                              : UNMEASURED_PERMILLE;
    verdict->outcome = part < 1000 - off   ? TEST_LESS
                       : part > 1000 + off ? TEST_MORE
                                           : TEST_AS_EXPECTED;
    if (verdict->outcome == TEST_LESS && subject->resistive) {
        find(verdict, TEST_LESS, FINDING_ELEMENT_PART, verdict->power_w, subject->nameplate_w,
             part);
        verdict->finding.number[3] = verdict->agreeing;
    }
}

static void judge_no_draw(const struct test_subject *subject, bool hot,
                          struct test_verdict *verdict)
{
    int64_t mohm = verdict->expected_mohm > 0 ? verdict->expected_mohm : -1;
    if (subject->stuck)
        find(verdict, TEST_STAYS_ON, FINDING_CONTACT_STUCK, subject->nameplate_w, verdict->agreeing,
             -1);
    else if (subject->thermostat && hot)
        verdict->outcome = TEST_THERMOSTAT;
    else if (subject->contact == CONTACT_OPEN)
        find(verdict, TEST_NO_DRAW, FINDING_NOT_CLOSING, verdict->agreeing, -1, -1);
    else if (subject->contact == CONTACT_CLOSED)
        find(verdict, TEST_NO_DRAW, FINDING_ELEMENT_OPEN, verdict->agreeing, subject->nameplate_w,
             mohm);
    else
        find(verdict, TEST_NO_DRAW, FINDING_NO_POWER, verdict->agreeing, subject->nameplate_w,
             mohm);
}

/* 1..: the phase that has the step though it is none of the load's; 0: there is none. */
static int other_phase(const struct test_subject *subject, const struct test_verdict *verdict)
{
    int64_t own_w = 0;
    int seen = 0;
    for (int p = 0; verdict->has_phases && p < TEST_PHASES; p++) {
        if (subject->phases >> p & 1)
            own_w += llabs(verdict->phase_w[p]);
        else if (llabs(verdict->phase_w[p]) >= subject->nameplate_w / 2)
            seen = p + 1;
    }
    return own_w < subject->nameplate_w / 4 ? seen : 0;
}

static int first_phase(uint8_t phases)
{
    for (int p = 0; p < TEST_PHASES; p++)
        if (phases >> p & 1)
            return p + 1;
    return 0;
}

static void judge_reversed(const struct test_subject *subject, struct test_verdict *verdict)
{
    if (!verdict->has_phases) {
        find(verdict, TEST_REVERSED, FINDING_GRID_REVERSED, verdict->agreeing, subject->nameplate_w,
             -1);
        return;
    }
    find(verdict, TEST_REVERSED, FINDING_PHASE_REVERSED, verdict->agreeing, subject->nameplate_w,
         verdict->power_w);
    for (int p = 0; p < TEST_PHASES; p++)
        if (verdict->phase_w[p] < 0 && verdict->finding.phase == 0)
            verdict->finding.phase = (uint8_t)(p + 1);
}

static void judge_step(const struct test_subject *subject, bool hot, struct test_verdict *verdict)
{
    verdict->seen_phase = other_phase(subject, verdict);
    if (verdict->seen_phase > 0)
        find(verdict, TEST_OTHER_PHASE, FINDING_PHASES_SWAPPED, verdict->agreeing,
             first_phase(subject->phases), verdict->seen_phase);
    else if (verdict->power_w <= -subject->nameplate_w / 2)
        judge_reversed(subject, verdict);
    else if (verdict->power_w < subject->nameplate_w / 4)
        judge_no_draw(subject, hot, verdict);
    else
        judge_power(subject, verdict);
}

/* It rose once, and however often it was ordered off, nothing fell. */
static bool stays_on(const struct test_subject *subject, const struct test_look looks[], int count)
{
    int flat = 0, fell = 0;
    for (int k = 0; k < count; k++)
        if (looks[k].stop && looks[k].seen == LOOK_CLEAR) {
            bool is_flat = llabs(looks[k].step_w) < subject->nameplate_w / 4;
            flat += is_flat;
            fell += !is_flat;
        }
    return subject->stuck && fell == 0 && flat >= (subject->once ? 1 : 2);
}

bool test_judge(const struct test_subject *subject, const struct test_look looks[], int count,
                struct test_verdict *verdict)
{
    *verdict = (struct test_verdict){.outcome = TEST_UNCLEAR};
    int best = most_agreed(looks, count, &verdict->agreeing);
    bool hot = count > 0 && looks[0].hot;
    int clear = count_clear(looks, count);
    if (best < 0)
        return false;
    bool settled = verdict->agreeing * 2 > clear && verdict->agreeing >= (subject->once ? 1 : 2);
    take_means(looks, count, magnitude_w(&looks[best]), verdict);
    measure_element(subject, verdict);
    if (stays_on(subject, looks, count)) {
        find(verdict, TEST_STAYS_ON, FINDING_CONTACT_STUCK, subject->nameplate_w, count / 2, -1);
        return true;
    }
    if (settled)
        judge_step(subject, hot, verdict);
    return settled;
}

/* ---- in words ------------------------------------------------------------------------------- */

const char *test_outcome_name(enum test_outcome outcome)
{
    static const char *const names[TEST_OUTCOMES] = {
        [TEST_UNCLEAR] = "unclear",
        [TEST_AS_EXPECTED] = "as-expected",
        [TEST_LESS] = "less",
        [TEST_MORE] = "more",
        [TEST_NO_DRAW] = "no-draw",
        [TEST_THERMOSTAT] = "thermostat",
        [TEST_STAYS_ON] = "stays-on",
        [TEST_REVERSED] = "reversed",
        [TEST_OTHER_PHASE] = "other-phase",
        [TEST_NOT_SHOWN] = "not-shown",
        [TEST_OUTPUT] = "output",
        [TEST_REFUSED] = "refused",
        [TEST_OVERRULED] = "overruled",
        [TEST_INTERRUPTED] = "interrupted",
        [TEST_GONE] = "gone",
    };
    return names[outcome];
}

void test_phases_write(uint8_t phases, struct text *text)
{
    const char *comma = "";
    for (int p = 0; p < TEST_PHASES; p++)
        if (phases >> p & 1) {
            text_add(text, "%sL%d", comma, p + 1);
            comma = ",";
        }
}

static void write_draws(const struct test_subject *subject, const struct test_verdict *verdict,
                        const char *judged, struct text *text)
{
    text_add(text, "draws ");
    show_power(text, verdict->power_w);
    if (verdict->has_phases || subject->phases == 1) {
        text_add(text, " on ");
        test_phases_write(subject->phases, text);
    }
    text_add(text, "%s", judged);
    if (verdict->outcome == TEST_AS_EXPECTED)
        return;
    text_add(text, " its nameplate's ");
    show_power(text, subject->nameplate_w);
    if (subject->resistive && verdict->voltage_mv == 0)
        text_add(text, " (voltage not measured)");
}

static void write_power_named(const char *before, int64_t power_w, const char *after,
                              struct text *text)
{
    text_add(text, "%s", before);
    show_power(text, power_w);
    text_add(text, "%s", after);
}

static void write_no_draw(const struct test_subject *subject, const struct test_verdict *verdict,
                          struct text *text)
{
    switch (verdict->finding.kind) {
    case FINDING_NOT_CLOSING:
        text_add(text, "possible: its contactor does not close: ordered on, and its sensed contact "
                       "stayed open");
        return;
    case FINDING_ELEMENT_OPEN:
        write_power_named(
            "possible: element, thermostat or cut-out open: its contactor closed, and "
            "the meter did not rise by its ",
            subject->nameplate_w, "", text);
        break;
    default:
        write_power_named(subject->resistive
                              ? "possible: no power reaches the element, or it is open: its output "
                                "confirmed on, and the meter did not rise by its "
                              : "possible: no power reaches it: its output confirmed on, and the "
                                "meter did not rise by its ",
                          subject->nameplate_w, "", text);
    }
    if (!subject->off_shown)
        text_add(text, "; or its contact stays closed or is bypassed, and it draws all the time: "
                       "nothing showed before that it was off");
}

void test_verdict_write(const struct test_subject *subject, const struct test_verdict *verdict,
                        struct text *text)
{
    switch (verdict->outcome) {
    case TEST_AS_EXPECTED:
        write_draws(subject, verdict, ": as expected", text);
        break;
    case TEST_LESS:
        text_add(text, subject->resistive ? "possible: part of the element is gone: " : "");
        write_draws(subject, verdict, ", less than", text);
        break;
    case TEST_MORE:
        write_draws(subject, verdict, ", more than", text);
        break;
    case TEST_NO_DRAW:
        write_no_draw(subject, verdict, text);
        break;
    case TEST_THERMOSTAT:
        text_add(text, "no draw, and possibly none due: its thermostat was shown to open in the "
                       "12 h before the test. Nothing is shown about the element");
        break;
    case TEST_STAYS_ON:
        write_power_named(
            "possible: contact welded or bypassed: ordered off, and the meter did not "
            "fall by its ",
            subject->nameplate_w, "", text);
        break;
    case TEST_REVERSED:
        write_power_named(
            "possible: the meter's sign is reversed: switched on, and import fell by ",
            -verdict->power_w, "", text);
        break;
    case TEST_OTHER_PHASE:
        write_power_named("possible: load or current transformer on another phase: ",
                          llabs(verdict->phase_w[verdict->seen_phase - 1]), "", text);
        text_add(text, " seen on L%d, not on ", verdict->seen_phase);
        test_phases_write(subject->phases, text);
        break;
    default:
        text_add(text, "not clear: the looks at the meter do not agree, or showed nothing");
    }
}

void test_verdict_write_first(const struct test_subject *subject,
                              const struct test_verdict *verdict, struct text *text)
{
    if (verdict->finding.kind != FINDING_NONE)
        finding_write_first(&verdict->finding, text);
    else if (verdict->outcome == TEST_THERMOSTAT)
        text_add(text, "Draw hot water until it is due to heat, and test again.");
    else if (verdict->outcome == TEST_UNCLEAR)
        text_add(text, "Test again when the house is quieter.");
    else if (verdict->outcome == TEST_MORE || verdict->outcome == TEST_LESS)
        text_add(text, "Compare the setting `power` with the nameplate.");
    if (verdict->outcome == TEST_NO_DRAW && subject->thermostat)
        text_add(text, " If the water may be hot, draw some and test again: an open thermostat "
                       "looks the same.");
}
