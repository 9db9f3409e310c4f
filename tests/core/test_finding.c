/* test_finding.c - findings as people read them, and what must hold for each of them. */
#include <string.h>

#include "suite.h"
#include "terms/finding.h"

enum { ID_MOST = 20, TEXT_MOST = 640 };

static const struct {
    struct finding finding;
    const char *says;
} shown[] = {
    {{.kind = FINDING_NO_POWER, .number = {3, 3600, 16000, -1}},
     "possible: no power reaches the element, or it is open: switched on 3 times, and the meter "
     "did not rise by its 3.6 kW"},
    {{.kind = FINDING_NO_POWER, .number = {1, 3600, 16000, -1}},
     "possible: no power reaches the element, or it is open: switched on once, and the meter "
     "did not rise by its 3.6 kW"},
    {{.kind = FINDING_CONTACT_STUCK, .number = {3600, 2}},
     "possible: contact welded or bypassed: ordered off twice, and the meter did not fall by the "
     "3.6 kW that it drew"},
    {{.kind = FINDING_CONTACT_STUCK, .number = {3600, -1}},
     "possible: contact welded or bypassed: runs of its 3.6 kW without an order, and its own "
     "starts "
     "show nothing"},
    {{.kind = FINDING_ELEMENT_PART, .number = {2390, 3600, 664, 4}},
     "possible: part of the element is gone: draws 2.4 kW of 3.6 kW, about two thirds, seen 4 "
     "times"},
    {{.kind = FINDING_ELEMENT_PART, .number = {2100, 3600, 583, 4}},
     "possible: part of the element is gone: draws 2.1 kW of 3.6 kW, about 58 %, seen 4 times"},
    {{.kind = FINDING_ELEMENT_DRIFT, .number = {18250, 16000, 877, 200}},
     "possible: the element ages: 18.3 ohm at the voltage measured, 16.0 ohm at first; 88 % of its "
     "power left"},
    {{.kind = FINDING_THERMOSTAT_CLOSED, .number = {31400000, 21000000}},
     "possible: thermostat does not open: 31.4 kWh drawn without a stop, and the tank holds "
     "21 kWh"},
    {{.kind = FINDING_GUARANTEE_AT_RISK, .number = {1, 90 * MS_PER_MIN, 66600}},
     "possible: its guarantee by 18:30 will be missed: 1 h 30 min of it cannot be had in time"},
    {{.kind = FINDING_GUARANTEE_AT_RISK, .number = {1, -1, 66600}},
     "possible: its guarantee by 18:30 will be missed: it was switched on and drew nothing"},
    {{.kind = FINDING_PHASE_REVERSED, .phase = 2, .number = {3, 3600, -1800}},
     "possible: the current transformer of this phase is reversed: a start of 3.6 kW there "
     "showed -1.8 kW, 3 times"},
};

START_TEST(test_finding_says_what_shows_it)
{
    for (size_t i = 0; i < COUNT_OF(shown); i++) {
        char buffer[TEXT_MOST];
        struct text text = text_in(buffer, sizeof(buffer));
        finding_write(&shown[i].finding, &text);
        ck_assert_str_eq(buffer, shown[i].says);
    }
}
END_TEST

START_TEST(test_expected_resistance_is_in_what_to_do)
{
    char buffer[TEXT_MOST];
    struct text text = text_in(buffer, sizeof(buffer));
    finding_write_first(&(struct finding){.kind = FINDING_NO_POWER, .number = {3, 3600, 16000}},
                        &text);
    ck_assert_ptr_nonnull(strstr(buffer, "about 16.0 ohm expected"));
    ck_assert_ptr_nonnull(strstr(buffer, "Isolate before opening"));
}
END_TEST

START_TEST(test_each_kind_has_an_id_of_its_own_and_fits)
{
    for (int k = 0; k < FINDING_COUNT; k++) {
        char says[TEXT_MOST], first[TEXT_MOST];
        const struct finding finding = {.kind = (uint8_t)k,
                                        .number = {INT64_MIN, INT64_MAX, -1, INT64_MAX}};
        struct text text = text_in(says, sizeof(says));
        finding_write(&finding, &text);
        struct text more = text_in(first, sizeof(first));
        finding_write_first(&finding, &more);
        const char *id = finding_id((enum finding_kind)k);
        ck_assert(!text.full && text.used > 0 && !more.full && more.used > 0);
        ck_assert(k == FINDING_NONE || strncmp(says, "possible: ", 10) == 0);
        ck_assert_ptr_null(strchr(says, '|'));
        ck_assert_uint_le(strlen(id), ID_MOST);
        ck_assert_uint_eq(strspn(id, "abcdefghijklmnopqrstuvwxyz-"), strlen(id));
        for (int other = 0; other < k; other++)
            ck_assert_str_ne(id, finding_id((enum finding_kind)other));
    }
}
END_TEST

/* Where the first thing to do is behind a cover, or hot water may come of it. */
START_TEST(test_what_can_hurt_is_said)
{
    for (int k = FINDING_NONE + 1; k < FINDING_COUNT; k++) {
        char first[TEXT_MOST];
        struct text text = text_in(first, sizeof(first));
        finding_write_first(&(struct finding){.kind = (uint8_t)k}, &text);
        bool nothing_opened =
            k == FINDING_GUARANTEE_AT_RISK || k == FINDING_NOT_SATISFIED || k == FINDING_LOSES_HEAT;
        bool hot =
            k == FINDING_CONTACT_STUCK || k == FINDING_THERMOSTAT_CLOSED || k == FINDING_LOSES_HEAT;
        ck_assert_int_eq(strstr(first, "Isolate before opening") != NULL, !nothing_opened);
        ck_assert_int_eq(strstr(first, "scalding") != NULL, hot);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_finding_says_what_shows_it,
        test_expected_resistance_is_in_what_to_do,
        test_each_kind_has_an_id_of_its_own_and_fits,
        test_what_can_hurt_is_said,
    };
    return suite_run("finding", tests, COUNT_OF(tests));
}
