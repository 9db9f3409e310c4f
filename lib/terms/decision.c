/* decision.c - reasons as text.
 *
 * A reason is a row: a name for machines and a phrase (phrase.h) for people.
 *
 * A number that has no meaning (-1: no end time) has its own phrase, and so has
 * a floor that ends with the thermostat: rows again, not branches. */
#include "terms/decision.h"

#include "terms/confirmation.h"
#include "terms/floor.h"
#include "terms/phrase.h"
#include "terms/reading.h"

enum { NO_END_MS = 1000000000 /* 11 days: hours look a week ahead */ };

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
    [REASON_ON_MANUAL] = {.name = "on-manual",
                          .usual = {"on: manually, % left", {{PHRASE_DURATION, 0}}}},
    [REASON_ON_TEST] = {.name = "on-test",
                        .usual = {"on: under test, % left", {{PHRASE_DURATION, 0}}}},
    [REASON_ON_FLOOR] =
        {.name = "on-floor",
         .usual = {"on: guaranteed % by %, % left, latest start %",
                   {{PHRASE_AMOUNT, 0}, {PHRASE_CLOCK, 2}, {PHRASE_AMOUNT, 1}, {PHRASE_CLOCK, 3}}},
         .telling = 2,
         .least = 0,
         .greatest = INT64_MAX,
         .other = {"on: guaranteed % in each 24 h while the clock is not synchronised, % left",
                   {{PHRASE_AMOUNT, 0}, {PHRASE_AMOUNT, 1}}},
         .satisfied = {"on: guaranteed until satisfied by %, % expected, latest start %",
                       {{PHRASE_CLOCK, 2}, {PHRASE_DURATION, 1}, {PHRASE_CLOCK, 3}}},
         .satisfied_other = {"on: guaranteed until satisfied while the clock is not synchronised, "
                             "% expected",
                             {{PHRASE_DURATION, 1}}}},
    [REASON_ON_CHEAP_HOURS] =
        {.name = "on-cheap-hours",
         .usual = {"on: cheap hours for guaranteed % by %, % left",
                   {{PHRASE_AMOUNT, 0}, {PHRASE_CLOCK, 2}, {PHRASE_AMOUNT, 1}}},
         .telling = 2,
         .least = 0,
         .greatest = INT64_MAX,
         .other = {"on: cheap hours for guaranteed %, % left",
                   {{PHRASE_AMOUNT, 0}, {PHRASE_AMOUNT, 1}}},
         .satisfied = {"on: cheap hours for guaranteed until satisfied by %, % expected",
                       {{PHRASE_CLOCK, 2}, {PHRASE_DURATION, 1}}},
         .satisfied_other = {"on: cheap hours for guaranteed until satisfied, % expected",
                             {{PHRASE_DURATION, 1}}}},
    [REASON_ON_AHEAD] = {.name = "on-ahead",
                         .usual = {"on: ahead, heat at % is worth %",
                                   {{PHRASE_PRICE, 0}, {PHRASE_PRICE, 1}}}},
    [REASON_ON_LEARNING] = {.name = "on-learning",
                            .usual = {.text = "on: learning, hot whatever it costs"}},
    [REASON_ON_SPARE] = {.name = "on-spare",
                         .usual = {"on: spare %, % needed",
                                   {{PHRASE_POWER, 0}, {PHRASE_POWER, 1}}}},
    [REASON_ON_PROBE] = {.name = "on-probe",
                         .usual = {"on: probe of % for spare power that is throttled",
                                   {{PHRASE_POWER, 0}}}},
    [REASON_ON_MINIMUM_ON] = {.name = "on-minimum-on",
                              .usual = {"on: minimum on, % left", {{PHRASE_DURATION, 0}}}},
    [REASON_ON_RETURN] = {.name = "on-return",
                          .usual = {"on: heat-up before the holiday ends in %",
                                    {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_INHIBIT] = {.name = "off-inhibit", .usual = {.text = "off: inhibited"}},
    [REASON_OFF_ISLANDED] = {.name = "off-islanded",
                             .usual = {.text = "off: the site runs off the grid"}},
    [REASON_OFF_IN_HAND] = {.name = "off-in-hand",
                            .usual = {.text = "ordered off, may be on: in hand at the board, and "
                                              "nothing counts towards a guarantee"}},
    [REASON_OFF_AT_BOARD] = {.name = "off-at-board",
                             .usual = {.text = "off: off at the board, no guarantee can be kept"}},
    [REASON_OFF_NOT_IN_AUTO] = {.name = "off-not-in-auto",
                                .usual = {.text = "ordered off, may be on: not in auto at the "
                                                  "board, and nothing counts towards a guarantee"}},
    [REASON_OFF_NO_SUPPLY] = {.name = "off-no-supply",
                              .usual = {.text = "off: its off-peak supply is off"}},
    [REASON_OFF_MANUAL] = {.name = "off-manual",
                           .usual = {"off: manually, % left", {{PHRASE_DURATION, 0}}},
                           FOR_A_TIME,
                           .other = {.text = "off: manually, no end time"}},
    [REASON_OFF_TEST] = {.name = "off-test",
                         .usual = {"off: under test, % left", {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_DISABLED] = {.name = "off-disabled",
                             .usual = {.text = "off: automatic running is disabled"}},
    [REASON_OFF_HOLIDAY] = {.name = "off-holiday", .usual = {.text = "off: holiday"}},
    /* What has not confirmed may be on; only what is on its way is not told so yet. */
    [REASON_OFF_OUTPUT] = {.name = "off-output",
                           .usual = {"off: output %", {{PHRASE_HEALTH, 0}}},
                           .telling = 0,
                           .least = OUTPUT_CONFIRMED,
                           .greatest = OUTPUT_PENDING,
                           .other = {"ordered off, may be on: output %", {{PHRASE_HEALTH, 0}}}},
    [REASON_OFF_SUPPLY] =
        {.name = "off-supply",
         .usual = {"off: supply limit, L% at % of %",
                   {{PHRASE_NUMBER, 0}, {PHRASE_CURRENT, 1}, {PHRASE_CURRENT, 2}}},
         .telling = 0,
         .least = 1,
         .greatest = PHASES,
         .other = {"off: supply limit of %", {{PHRASE_CURRENT, 2}}}},
    [REASON_OFF_GROUP] = {.name = "off-group",
                          .usual = {"off: its group's limit of %", {{PHRASE_CURRENT, 0}}},
                          .telling = 0,
                          .least = 1,
                          .greatest = INT64_MAX,
                          .other = {.text = "off: another load of its group runs, one at a time"}},
    [REASON_OFF_MINIMUM_OFF] = {.name = "off-minimum-off",
                                .usual = {"off: minimum off, % left", {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_STARTS] = {.name = "off-starts",
                           .usual = {"off: % starts in an hour, next one in %",
                                     {{PHRASE_NUMBER, 0}, {PHRASE_DURATION, 1}}}},
    [REASON_OFF_RESTART] = {.name = "off-restart",
                            .usual = {"off: loads start one after another, % left",
                                      {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_UNSHOWN] =
        {.name = "off-unshown",
         .usual = {.text = "off: waiting for the meter to settle after the last switching"}},
    [REASON_OFF_HOURS] = {.name = "off-hours",
                          .usual = {"off: outside its hours, which begin in %",
                                    {{PHRASE_DURATION, 0}}},
                          FOR_A_TIME,
                          .other = {.text =
                                        "off: outside its hours, or too near their end to start"}},
    [REASON_OFF_QUIET_HOURS] = {.name = "off-quiet-hours", .usual = {.text = "off: quiet hours"}},
    [REASON_OFF_DAILY_MAXIMUM] = {.name = "off-daily-maximum",
                                  .usual = {"off: daily maximum of % reached",
                                            {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_CLOCK] = {.name = "off-clock",
                          .usual = {.text =
                                        "off: strict hours, and the clock is not synchronised"}},
    [REASON_OFF_SATISFIED] = {.name = "off-satisfied",
                              .usual = {"off: satisfied, tried again in %",
                                        {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_SUPPOSED] =
        {.name = "off-supposed",
         .usual = {"off: has stopped drawing, possibly satisfied, tried again in %",
                   {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_NO_DRAW] = {.name = "off-no-draw",
                            .usual = {"off: drew nothing, not known why, tried again in %",
                                      {{PHRASE_DURATION, 0}}}},
    [REASON_OFF_NO_READING] = {.name = "off-no-reading",
                               .usual = {"off: meter reading %", {{PHRASE_QUALITY, 0}}}},
    [REASON_OFF_NO_BATTERY] = {.name = "off-no-battery",
                               .usual = {.text = "off: the battery is not read"}},
    [REASON_OFF_SPARE] = {.name = "off-spare",
                          .usual = {"off: spare % of % needed",
                                    {{PHRASE_POWER, 0}, {PHRASE_POWER, 1}}},
                          .telling = 0,
                          .least = 1,
                          .greatest = INT64_MAX,
                          .other = {"off: no spare power, needs %", {{PHRASE_POWER, 1}}}},
    [REASON_OFF_SETTLING] =
        {.name = "off-settling",
         .usual = {"off: settling, spare %, % needed, % left",
                   {{PHRASE_POWER, 0}, {PHRASE_POWER, 1}, {PHRASE_DURATION, 2}}}},
    [REASON_OFF_TAKEOVER] = {.name = "off-takeover",
                             .usual = {"off: waits for a lower priority to give way with %",
                                       {{PHRASE_POWER, 0}}}},
    [REASON_OFF_TAKEN_OVER] = {.name = "off-taken-over",
                               .usual = {"off: gave way to %", {{PHRASE_NAME, 0}}}},
    [REASON_OFF_WORTH] = {.name = "off-worth",
                          .usual = {"off: hot enough, more heat at % is worth %",
                                    {{PHRASE_PRICE, 0}, {PHRASE_PRICE, 1}}}},
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
    const struct phrase_numbers numbers = {
        .number = reason->number,
        .count = PHRASE_ARGUMENTS,
        .measure = reason->measure,
        .name = load ? load : "another load",
    };
    phrase_write(phrase_of(row_of(reason->code), reason), &numbers, text);
}
