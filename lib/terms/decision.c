/* decision.c - reasons as text.
 *
 * A reason is a row: a name for machines and a phrase for people, in which each
 * '%' stands for the next of its arguments. What an argument is (a power, a
 * duration, ...) says how its number is written: rounded as people would say it,
 * and what is left to wait rounded up, so that it is never told as nothing.
 *
 * A number that has no meaning (-1: no end time) has its own phrase, and so has
 * a floor that ends with the thermostat: rows again, not branches. */
#include "terms/decision.h"

#include <inttypes.h>
#include <string.h>

#include "core/quantity.h"
#include "terms/confirmation.h"
#include "terms/floor.h"
#include "terms/reading.h"

enum argument_kind {
    ARGUMENT_NONE,
    POWER,    /* W */
    DURATION, /* ms */
    AMOUNT,   /* of the floor's measure */
    CLOCK,    /* second of the day */
    CURRENT,  /* mA */
    PRICE,    /* millionths of the currency per kWh */
    NUMBER,
    HEALTH,  /* enum output_health */
    QUALITY, /* enum reading_quality */
    LOAD,    /* index; the caller knows its name */
};

enum { ARGUMENTS_MAX = 4, NO_END_MS = 1000000000 /* 11 days: hours look a week ahead */ };

struct argument {
    enum argument_kind kind;
    int number; /* which of the reason's numbers */
};

struct phrase {
    const char *text; /* NULL: there is no such phrase */
    struct argument argument[ARGUMENTS_MAX];
};

struct row {
    const char *name;
    struct phrase usual;
    int telling;             /* the number that tells whether the other one is meant: */
    int64_t least, greatest; /* it is, outside these */
    struct phrase other;
    struct phrase satisfied, satisfied_other; /* a floor until satisfied */
};

/* An end that lies so far off is none. */
#define FOR_A_TIME .telling = 0, .least = 0, .greatest = NO_END_MS

static const struct row rows[REASON_COUNT] = {
    [REASON_NONE] = {.name = "none", .usual = {.text = "no reason"}},
    [REASON_ON_MANUAL] = {.name = "on-manual", .usual = {"on: by hand, % left", {{DURATION, 0}}}},
    [REASON_ON_FLOOR] =
        {.name = "on-floor",
         .usual = {"on: guaranteed % by %, % left, latest start %",
                   {{AMOUNT, 0}, {CLOCK, 2}, {AMOUNT, 1}, {CLOCK, 3}}},
         .telling = 2,
         .least = 0,
         .greatest = INT64_MAX,
         .other = {"on: guaranteed % in each 24 h while the clock is not synchronised, % left",
                   {{AMOUNT, 0}, {AMOUNT, 1}}},
         .satisfied = {"on: guaranteed until satisfied by %, % expected, latest start %",
                       {{CLOCK, 2}, {DURATION, 1}, {CLOCK, 3}}},
         .satisfied_other = {"on: guaranteed until satisfied while the clock is not synchronised, "
                             "% expected",
                             {{DURATION, 1}}}},
    [REASON_ON_CHEAP_HOURS] =
        {.name = "on-cheap-hours",
         .usual = {"on: cheap hours for guaranteed % by %, % left",
                   {{AMOUNT, 0}, {CLOCK, 2}, {AMOUNT, 1}}},
         .telling = 2,
         .least = 0,
         .greatest = INT64_MAX,
         .other = {"on: cheap hours for guaranteed %, % left", {{AMOUNT, 0}, {AMOUNT, 1}}},
         .satisfied = {"on: cheap hours for guaranteed until satisfied by %, % expected",
                       {{CLOCK, 2}, {DURATION, 1}}},
         .satisfied_other = {"on: cheap hours for guaranteed until satisfied, % expected",
                             {{DURATION, 1}}}},
    [REASON_ON_AHEAD] = {.name = "on-ahead",
                         .usual = {"on: ahead, heat at % is worth %", {{PRICE, 0}, {PRICE, 1}}}},
    [REASON_ON_LEARNING] = {.name = "on-learning",
                            .usual = {.text = "on: learning, hot whatever it costs"}},
    [REASON_ON_SPARE] = {.name = "on-spare",
                         .usual = {"on: spare %, % needed", {{POWER, 0}, {POWER, 1}}}},
    [REASON_ON_PROBE] = {.name = "on-probe",
                         .usual = {"on: probe of % for spare power that is throttled",
                                   {{POWER, 0}}}},
    [REASON_ON_MINIMUM_ON] = {.name = "on-minimum-on",
                              .usual = {"on: minimum on, % left", {{DURATION, 0}}}},
    [REASON_ON_RETURN] = {.name = "on-return",
                          .usual = {"on: heat-up before the holiday ends in %", {{DURATION, 0}}}},
    [REASON_OFF_INHIBIT] = {.name = "off-inhibit", .usual = {.text = "off: inhibited"}},
    [REASON_OFF_ISLANDED] = {.name = "off-islanded",
                             .usual = {.text = "off: the site runs off the grid"}},
    [REASON_OFF_MANUAL] = {.name = "off-manual",
                           .usual = {"off: by hand, % left", {{DURATION, 0}}},
                           FOR_A_TIME,
                           .other = {.text = "off: by hand, no end time"}},
    [REASON_OFF_DISABLED] = {.name = "off-disabled",
                             .usual = {.text = "off: automatic running is disabled"}},
    [REASON_OFF_HOLIDAY] = {.name = "off-holiday", .usual = {.text = "off: holiday"}},
    /* What has not confirmed may be on; only what is on its way is not told so yet. */
    [REASON_OFF_OUTPUT] = {.name = "off-output",
                           .usual = {"off: output %", {{HEALTH, 0}}},
                           .telling = 0,
                           .least = OUTPUT_CONFIRMED,
                           .greatest = OUTPUT_PENDING,
                           .other = {"ordered off, may be on: output %", {{HEALTH, 0}}}},
    [REASON_OFF_SUPPLY] = {.name = "off-supply",
                           .usual = {"off: supply limit, L% at % of %",
                                     {{NUMBER, 0}, {CURRENT, 1}, {CURRENT, 2}}},
                           .telling = 0,
                           .least = 1,
                           .greatest = PHASES,
                           .other = {"off: supply limit of %", {{CURRENT, 2}}}},
    [REASON_OFF_GROUP] = {.name = "off-group",
                          .usual = {"off: its group's limit of %", {{CURRENT, 0}}},
                          .telling = 0,
                          .least = 1,
                          .greatest = INT64_MAX,
                          .other = {.text = "off: another load of its group runs, one at a time"}},
    [REASON_OFF_MINIMUM_OFF] = {.name = "off-minimum-off",
                                .usual = {"off: minimum off, % left", {{DURATION, 0}}}},
    [REASON_OFF_STARTS] = {.name = "off-starts",
                           .usual = {"off: % starts in an hour, next one in %",
                                     {{NUMBER, 0}, {DURATION, 1}}}},
    [REASON_OFF_RESTART] = {.name = "off-restart",
                            .usual = {"off: loads start one after another, % left",
                                      {{DURATION, 0}}}},
    [REASON_OFF_UNSHOWN] =
        {.name = "off-unshown",
         .usual = {.text = "off: waiting for the meter to settle after the last switching"}},
    [REASON_OFF_HOURS] = {.name = "off-hours",
                          .usual = {"off: outside its hours, which begin in %", {{DURATION, 0}}},
                          FOR_A_TIME,
                          .other = {.text =
                                        "off: outside its hours, or too near their end to start"}},
    [REASON_OFF_QUIET_HOURS] = {.name = "off-quiet-hours", .usual = {.text = "off: quiet hours"}},
    [REASON_OFF_DAILY_MAXIMUM] = {.name = "off-daily-maximum",
                                  .usual = {"off: daily maximum of % reached", {{DURATION, 0}}}},
    [REASON_OFF_CLOCK] = {.name = "off-clock",
                          .usual = {.text =
                                        "off: strict hours, and the clock is not synchronised"}},
    [REASON_OFF_SATISFIED] = {.name = "off-satisfied",
                              .usual = {"off: satisfied, tried again in %", {{DURATION, 0}}}},
    [REASON_OFF_SUPPOSED] =
        {.name = "off-supposed",
         .usual = {"off: has stopped drawing, possibly satisfied, tried again in %",
                   {{DURATION, 0}}}},
    [REASON_OFF_NO_DRAW] = {.name = "off-no-draw",
                            .usual = {"off: drew nothing, not known why, tried again in %",
                                      {{DURATION, 0}}}},
    [REASON_OFF_NO_READING] = {.name = "off-no-reading",
                               .usual = {"off: meter reading %", {{QUALITY, 0}}}},
    [REASON_OFF_NO_BATTERY] = {.name = "off-no-battery",
                               .usual = {.text = "off: the battery is not read"}},
    [REASON_OFF_SPARE] = {.name = "off-spare",
                          .usual = {"off: spare % of % needed", {{POWER, 0}, {POWER, 1}}},
                          .telling = 0,
                          .least = 1,
                          .greatest = INT64_MAX,
                          .other = {"off: no spare power, needs %", {{POWER, 1}}}},
    [REASON_OFF_SETTLING] = {.name = "off-settling",
                             .usual = {"off: settling, spare % of % needed, % left",
                                       {{POWER, 0}, {POWER, 1}, {DURATION, 2}}}},
    [REASON_OFF_TAKEOVER] = {.name = "off-takeover",
                             .usual = {"off: waits for a lower priority to give way with %",
                                       {{POWER, 0}}}},
    [REASON_OFF_TAKEN_OVER] = {.name = "off-taken-over",
                               .usual = {"off: gave way to %", {{LOAD, 0}}}},
    [REASON_OFF_WORTH] = {.name = "off-worth",
                          .usual = {"off: hot enough, more heat at % is worth %",
                                    {{PRICE, 0}, {PRICE, 1}}}},
    [REASON_OFF_IDLE] = {.name = "off-idle",
                         .usual = {.text = "off: uses no spare power, and no floor is due"}},
};

static const struct row *row_of(enum reason_code code)
{
    return &rows[(unsigned)code < REASON_COUNT ? code : REASON_NONE];
}

const char *reason_name(enum reason_code code)
{
    return row_of(code)->name;
}

int reason_load(const struct reason *reason)
{
    return reason->code == REASON_OFF_TAKEN_OVER ? (int)reason->number[0] : -1;
}

/* ---- numbers as people say them ------------------------------------------------- */

/* A nonsensical number must not overflow while it is rounded. */
static int64_t number_of(const struct reason *reason, int which)
{
    const int64_t most = INT64_MAX / 2;
    int64_t number = reason->number[which];
    return number < -most ? -most : number > most ? most : number;
}

static int64_t rounded(int64_t value, int64_t step)
{
    int64_t half = value < 0 ? -(step / 2) : step / 2;
    return (value + half) / step * step;
}

static int64_t rounded_up(int64_t value, int64_t step)
{
    return value <= 0 ? 0 : (value - 1) / step * step + step;
}

static int64_t round_power_w(int64_t power_w)
{
    return power_w > -1000 && power_w < 1000 ? power_w : rounded(power_w, 100);
}

static int64_t round_duration_ms(int64_t duration_ms)
{
    return rounded_up(duration_ms, duration_ms > MS_PER_MIN ? MS_PER_MIN : MS_PER_S);
}

static int64_t round_energy_mwh(int64_t energy_mwh)
{
    const int64_t kwh = 1000000;
    return rounded_up(energy_mwh, energy_mwh > kwh ? kwh / 100 : kwh / 1000);
}

/* "spare 3.6 kW of 3.6 kW needed" would be a riddle: where rounding makes two
 * different powers look the same, both are told to the watt. */
static void write_power(const struct reason *reason, int64_t power_w, struct text *text)
{
    int64_t first = number_of(reason, 0), second = number_of(reason, 1);
    bool riddle = first != second && round_power_w(first) == round_power_w(second);
    quantity_write(QUANTITY_POWER_W, riddle ? power_w : round_power_w(power_w), text);
}

static void write_argument(const struct reason *reason, struct argument argument, const char *load,
                           struct text *text)
{
    int64_t value = number_of(reason, argument.number);
    switch (argument.kind) {
    case POWER:
        write_power(reason, value, text);
        break;
    case AMOUNT:
        if (reason->measure == FLOOR_ENERGY) {
            quantity_write(QUANTITY_ENERGY_MWH, round_energy_mwh(value), text);
            break;
        }
        /* fall through */
    case DURATION:
        quantity_write(QUANTITY_DURATION_MS, round_duration_ms(value), text);
        break;
    case CLOCK:
        quantity_write(QUANTITY_TIME_S, value - value % 60, text);
        break;
    case CURRENT:
        quantity_write(QUANTITY_CURRENT_MA, rounded(value, 100), text);
        break;
    case PRICE:
        quantity_write(QUANTITY_PRICE_MICRO, rounded(value, 1000), text);
        break;
    case NUMBER:
        text_add(text, "%" PRId64, value);
        break;
    case HEALTH:
        text_add(text, "%s", output_health_text((enum output_health)value));
        break;
    case QUALITY:
        text_add(text, "%s", reading_quality_text((enum reading_quality)value));
        break;
    case LOAD:
        text_add(text, "%s", load ? load : "another load");
        break;
    case ARGUMENT_NONE:
        break;
    }
}

/* ---- the phrase ---------------------------------------------------------------------- */

static const struct phrase *phrase_of(const struct row *row, const struct reason *reason)
{
    int64_t telling = reason->number[row->telling];
    bool other = row->other.text && (telling < row->least || telling > row->greatest);
    if (reason->measure == FLOOR_SATISFIED && row->satisfied.text)
        return other ? &row->satisfied_other : &row->satisfied;
    return other ? &row->other : &row->usual;
}

void reason_write(const struct reason *reason, const char *load, struct text *text)
{
    const struct phrase *phrase = phrase_of(row_of(reason->code), reason);
    const struct argument *argument = phrase->argument;
    const char *at = phrase->text;
    for (;;) {
        int length = (int)strcspn(at, "%");
        text_add(text, "%.*s", length, at);
        at += length;
        if (*at++ == '\0')
            return;
        write_argument(reason, *argument++, load, text);
    }
}
