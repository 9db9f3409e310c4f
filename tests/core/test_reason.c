/* test_reason.c - every reason as people read it, and the words of the other terms. */
#include <stdbool.h>
#include <string.h>

#include "suite.h"
#include "terms/confirmation.h"
#include "terms/decision.h"
#include "terms/floor.h"
#include "terms/reading.h"

#define H(hours) ((int64_t)(hours)*MS_PER_HOUR)
#define MIN(minutes) ((int64_t)(minutes)*MS_PER_MIN)
#define S(seconds) ((int64_t)(seconds)*MS_PER_S)
enum { KWH = 1000000, AT_1830 = 66600, AT_1650 = 60600 };

static const struct {
    struct reason reason;
    const char *text;
} told[] = {
    {{.code = REASON_NONE}, "no reason"},
    {{.code = REASON_ON_TEST, .number = {S(45)}}, "on: under test, 45 s left"},
    {{.code = REASON_OFF_TEST, .number = {S(45)}}, "off: under test, 45 s left"},
    {{.code = REASON_ON_MANUAL, .number = {H(1) + MIN(59) + S(30)}}, "on: manually, 2 h left"},
    {{.code = REASON_ON_FLOOR,
      .measure = FLOOR_TIME,
      .number = {H(2) + MIN(30), H(1) + MIN(10), AT_1830, AT_1650}},
     "on: guaranteed 2 h 30 min by 18:30, 1 h 10 min left, latest start 16:50"},
    {{.code = REASON_ON_FLOOR,
      .measure = FLOOR_ENERGY,
      .number = {6 * KWH, 3251234, AT_1830, AT_1650 + 59}},
     "on: guaranteed 6 kWh by 18:30, 3.26 kWh left, latest start 16:50"},
    {{.code = REASON_ON_FLOOR, .measure = FLOOR_SATISFIED, .number = {0, H(2), AT_1830, AT_1650}},
     "on: guaranteed until satisfied by 18:30, 2 h expected, latest start 16:50"},
    {{.code = REASON_ON_FLOOR, .measure = FLOOR_TIME, .number = {H(3), MIN(40), -1, -1}},
     "on: guaranteed 3 h in each 24 h while the clock is not synchronised, 40 min left"},
    {{.code = REASON_ON_FLOOR, .measure = FLOOR_SATISFIED, .number = {0, MIN(40), -1, -1}},
     "on: guaranteed until satisfied while the clock is not synchronised, 40 min expected"},
    {{.code = REASON_ON_CHEAP_HOURS, .measure = FLOOR_TIME, .number = {H(3), H(1), AT_1830}},
     "on: cheap hours for guaranteed 3 h by 18:30, 1 h left"},
    {{.code = REASON_ON_CHEAP_HOURS, .measure = FLOOR_ENERGY, .number = {500000, 250001, AT_1830}},
     "on: cheap hours for guaranteed 500 Wh by 18:30, 251 Wh left"},
    {{.code = REASON_ON_CHEAP_HOURS, .measure = FLOOR_SATISFIED, .number = {0, H(1), AT_1830}},
     "on: cheap hours for guaranteed until satisfied by 18:30, 1 h expected"},
    {{.code = REASON_ON_CHEAP_HOURS, .measure = FLOOR_TIME, .number = {H(3), H(1), -1}},
     "on: cheap hours for guaranteed 3 h, 1 h left"},
    {{.code = REASON_ON_CHEAP_HOURS, .measure = FLOOR_SATISFIED, .number = {0, H(1), -1}},
     "on: cheap hours for guaranteed until satisfied, 1 h expected"},
    {{.code = REASON_ON_SPARE, .number = {4049, 3600}}, "on: spare 4 kW, 3.6 kW needed"},
    {{.code = REASON_ON_AHEAD, .number = {280000, 312000}},
     "on: ahead, heat at 0.28 /kWh is worth 0.312 /kWh"},
    {{.code = REASON_ON_LEARNING}, "on: learning, hot whatever it costs"},
    {{.code = REASON_ON_PROBE, .number = {950}},
     "on: probe of 950 W for spare power that is throttled"},
    {{.code = REASON_ON_MINIMUM_ON, .number = {S(59)}}, "on: minimum on, 59 s left"},
    {{.code = REASON_ON_RETURN, .number = {H(26) + S(1)}},
     "on: heat-up before the holiday ends in 1 d 2 h 1 min"},
    {{.code = REASON_OFF_INHIBIT}, "off: inhibited"},
    {{.code = REASON_OFF_ISLANDED}, "off: the site runs off the grid"},
    {{.code = REASON_OFF_MANUAL, .number = {MIN(90)}}, "off: manually, 1 h 30 min left"},
    {{.code = REASON_OFF_MANUAL, .number = {-1}}, "off: manually, no end time"},
    {{.code = REASON_OFF_DISABLED}, "off: automatic running is disabled"},
    {{.code = REASON_OFF_IN_HAND},
     "ordered off, may be on: in hand at the board, and nothing counts towards a guarantee"},
    {{.code = REASON_OFF_AT_BOARD}, "off: off at the board, no guarantee can be kept"},
    {{.code = REASON_OFF_NOT_IN_AUTO},
     "ordered off, may be on: not in auto at the board, and nothing counts towards a guarantee"},
    {{.code = REASON_OFF_NO_SUPPLY}, "off: its off-peak supply is off"},
    {{.code = REASON_OFF_HOLIDAY}, "off: holiday"},
    {{.code = REASON_OFF_OUTPUT, .number = {OUTPUT_FAILED}},
     "ordered off, may be on: output failed"},
    {{.code = REASON_OFF_SUPPLY, .number = {2, 63250, 63000}},
     "off: supply limit, L2 at 63.3 A of 63 A"},
    {{.code = REASON_OFF_SUPPLY, .number = {0, 0, 63000}}, "off: supply limit of 63 A"},
    {{.code = REASON_OFF_GROUP, .number = {32000}}, "off: its group's limit of 32 A"},
    {{.code = REASON_OFF_GROUP, .number = {0}},
     "off: another load of its group runs, one at a time"},
    {{.code = REASON_OFF_MINIMUM_OFF, .number = {1}}, "off: minimum off, 1 s left"},
    {{.code = REASON_OFF_STARTS, .number = {4, MIN(12) - 1}},
     "off: 4 starts in an hour, next one in 12 min"},
    {{.code = REASON_OFF_RESTART, .number = {S(45)}},
     "off: loads start one after another, 45 s left"},
    {{.code = REASON_OFF_UNSHOWN}, "off: waiting for the meter to settle after the last switching"},
    {{.code = REASON_OFF_HOURS, .number = {H(3)}}, "off: outside its hours, which begin in 3 h"},
    {{.code = REASON_OFF_HOURS, .number = {-1}},
     "off: outside its hours, or too near their end to start"},
    {{.code = REASON_OFF_HOURS, .number = {INT64_MAX / 4}},
     "off: outside its hours, or too near their end to start"},
    {{.code = REASON_OFF_QUIET_HOURS}, "off: quiet hours"},
    {{.code = REASON_OFF_DAILY_MAXIMUM, .number = {H(5)}}, "off: daily maximum of 5 h reached"},
    {{.code = REASON_OFF_CLOCK}, "off: strict hours, and the clock is not synchronised"},
    {{.code = REASON_OFF_SATISFIED, .number = {MIN(20)}}, "off: satisfied, tried again in 20 min"},
    {{.code = REASON_OFF_SUPPOSED, .number = {MIN(20)}},
     "off: has stopped drawing, possibly satisfied, tried again in 20 min"},
    {{.code = REASON_OFF_NO_DRAW, .number = {MIN(20)}},
     "off: drew nothing, not known why, tried again in 20 min"},
    {{.code = REASON_OFF_NO_READING, .number = {READING_STALE}}, "off: meter reading stale"},
    {{.code = REASON_OFF_NO_BATTERY}, "off: the battery is not read"},
    {{.code = REASON_OFF_SPARE, .number = {1240, 3600}}, "off: spare 1.2 kW of 3.6 kW needed"},
    {{.code = REASON_OFF_SPARE, .number = {-1250, 3600}}, "off: no spare power, needs 3.6 kW"},
    {{.code = REASON_OFF_SETTLING, .number = {3900, 3600, MIN(2)}},
     "off: settling, spare 3.9 kW, 3.6 kW needed, 2 min left"},
    {{.code = REASON_OFF_TAKEOVER, .number = {1100}},
     "off: waits for a lower priority to give way with 1.1 kW"},
    {{.code = REASON_OFF_TAKEN_OVER, .number = {2}}, "off: gave way to another load"},
    {{.code = REASON_OFF_WORTH, .number = {50000, 31000}},
     "off: hot enough, more heat at 0.05 /kWh is worth 0.031 /kWh"},
    {{.code = REASON_OFF_IDLE}, "off: uses no spare power, and no floor is due"},
};

static const char *text_of(const struct reason *reason)
{
    static char buffer[200];
    struct text text = text_in(buffer, sizeof(buffer));
    reason_write(reason, NULL, &text);
    ck_assert(!text.full);
    return buffer;
}

START_TEST(test_every_reason_reads_as_a_sentence)
{
    bool seen[REASON_COUNT] = {false};
    for (size_t i = 0; i < COUNT_OF(told); i++) {
        ck_assert_str_eq(text_of(&told[i].reason), told[i].text);
        seen[told[i].reason.code] = true;
    }
    for (int code = 0; code < REASON_COUNT; code++)
        ck_assert_msg(seen[code], "%s is not told", reason_name((enum reason_code)code));
}
END_TEST

START_TEST(test_names_for_machines_are_there_and_differ)
{
    for (int code = 0; code < REASON_COUNT; code++) {
        const char *name = reason_name((enum reason_code)code);
        ck_assert_ptr_nonnull(name);
        ck_assert_uint_eq(strspn(name, "abcdefghijklmnopqrstuvwxyz-"), strlen(name));
        for (int other = 0; other < code; other++)
            ck_assert_str_ne(name, reason_name((enum reason_code)other));
    }
    ck_assert_str_eq(reason_name(REASON_OFF_SPARE), "off-spare");
    ck_assert_str_eq(reason_name(REASON_ON_CHEAP_HOURS), "on-cheap-hours");
}
END_TEST

START_TEST(test_names_and_sentences_agree_on_whether_it_runs)
{
    for (int code = REASON_NONE + 1; code < REASON_COUNT; code++) {
        struct reason reason = {.code = (enum reason_code)code};
        bool on = code <= REASON_ON_RETURN;
        /* what a failed output or a hand at the board does is not known: only what was ordered is
         */
        bool unknown = code == REASON_OFF_OUTPUT || code == REASON_OFF_IN_HAND ||
                       code == REASON_OFF_NOT_IN_AUTO;
        const char *word = on ? "on: " : unknown ? "ordered off, " : "off: ";
        ck_assert_int_eq(strncmp(text_of(&reason), word, strlen(word)), 0);
        ck_assert_int_eq(strncmp(reason_name(reason.code), on ? "on-" : "off-", on ? 3 : 4), 0);
    }
}
END_TEST

/* "spare 3.6 kW of 3.6 kW needed" would not explain anything. */
START_TEST(test_powers_that_differ_never_look_the_same)
{
    struct reason reason = {.code = REASON_OFF_SPARE, .number = {3590, 3600}};
    ck_assert_str_eq(text_of(&reason), "off: spare 3.59 kW of 3.6 kW needed");
    for (uint64_t seed = 1; seed <= 2000; seed++) {
        uint64_t s = seed;
        char first[200];
        int64_t needed_w = seeded_between(&s, 1, 20000);
        struct reason one = {.code = REASON_OFF_SPARE,
                             .number = {needed_w - seeded_between(&s, 1, 150), needed_w}};
        struct reason same = {.code = REASON_OFF_SPARE, .number = {needed_w, needed_w}};
        strcpy(first, text_of(&one));
        if (strcmp(first, text_of(&same)) == 0)
            ck_abort_msg("seed %d: %s", (int)seed, first);
    }
}
END_TEST

START_TEST(test_what_is_left_is_never_told_as_nothing)
{
    for (int64_t left_ms = 1; left_ms < MIN(3); left_ms += 37) {
        struct reason reason = {.code = REASON_OFF_MINIMUM_OFF, .number = {left_ms}};
        ck_assert_ptr_null(strstr(text_of(&reason), " 0 "));
    }
}
END_TEST

START_TEST(test_the_load_that_took_over_can_be_named)
{
    char buffer[100];
    struct reason reason = {.code = REASON_OFF_TAKEN_OVER, .number = {2}};
    struct text text = text_in(buffer, sizeof(buffer));
    ck_assert_int_eq(reason_load(&reason), 2);
    reason_write(&reason, "heater", &text);
    ck_assert_str_eq(buffer, "off: gave way to heater");
    reason.code = REASON_OFF_IDLE;
    ck_assert_int_eq(reason_load(&reason), -1);
}
END_TEST

START_TEST(test_numbers_out_of_all_reason_are_still_written)
{
    static const int64_t odd[] = {INT64_MIN, -1, 0, INT64_MAX / 4, INT64_MAX};
    for (int code = 0; code < REASON_COUNT; code++)
        for (size_t i = 0; i < COUNT_OF(odd); i++)
            for (uint8_t measure = FLOOR_TIME; measure <= FLOOR_SATISFIED; measure++) {
                struct reason reason = {.code = (enum reason_code)code,
                                        .measure = measure,
                                        .number = {odd[i], odd[i], odd[i], odd[i]}};
                ck_assert_uint_gt(strlen(text_of(&reason)), 3);
            }
    ck_assert_str_eq(reason_name((enum reason_code)REASON_COUNT), "none");
}
END_TEST

START_TEST(test_each_basis_health_and_quality_has_its_word)
{
    ck_assert_str_eq(BASIS_WORDS, "none,manual,floor,cheap-hours,ahead,spare,probe,minimum-on");
    ck_assert_str_eq(output_health_text(OUTPUT_UNKNOWN), "unknown");
    ck_assert_str_eq(output_health_text(OUTPUT_CONFIRMED), "confirmed");
    ck_assert_str_eq(output_health_text(OUTPUT_PENDING), "pending");
    ck_assert_str_eq(output_health_text(OUTPUT_FAILED), "failed");
    ck_assert_str_eq(output_health_text(OUTPUT_UNSAFE), "unsafe");
    ck_assert_str_eq(reading_quality_text(READING_ABSENT), "absent");
    ck_assert_str_eq(reading_quality_text(READING_FRESH), "fresh");
    ck_assert_str_eq(reading_quality_text(READING_STALE), "stale");
    ck_assert_str_eq(reading_quality_text(READING_IMPLAUSIBLE), "implausible");
}
END_TEST

START_TEST(test_a_reading_is_stale_after_ten_seconds_or_three_polls)
{
    struct source source = {.quality = READING_FRESH, .taken = {1000}};
    ck_assert_int_eq(reading_quality_at(&source, (struct mono){11000}, 1000), READING_FRESH);
    ck_assert_int_eq(reading_quality_at(&source, (struct mono){11001}, 1000), READING_STALE);
    ck_assert_int_eq(reading_quality_at(&source, (struct mono){16000}, 5000), READING_FRESH);
    ck_assert_int_eq(reading_quality_at(&source, (struct mono){16001}, 5000), READING_STALE);
    source.quality = READING_IMPLAUSIBLE;
    ck_assert_int_eq(reading_quality_at(&source, (struct mono){16001}, 5000), READING_IMPLAUSIBLE);
    ck_assert_int_eq(reading_fresh_ms(1000), 10000);
    ck_assert_int_eq(reading_fresh_ms(60000), 180000);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_every_reason_reads_as_a_sentence,
        test_names_for_machines_are_there_and_differ,
        test_names_and_sentences_agree_on_whether_it_runs,
        test_powers_that_differ_never_look_the_same,
        test_what_is_left_is_never_told_as_nothing,
        test_the_load_that_took_over_can_be_named,
        test_numbers_out_of_all_reason_are_still_written,
        test_each_basis_health_and_quality_has_its_word,
        test_a_reading_is_stale_after_ten_seconds_or_three_polls,
    };
    return suite_run("reason", tests, COUNT_OF(tests));
}
