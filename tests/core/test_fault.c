/* test_fault.c - what is wrong, in one form, whether known or inferred. */
#include <string.h>

#include "suite.h"
#include "terms/fault.h"

enum { TEXT_MOST = 640 };

/* Ids as the daemon gives them, and the names behind them. */
static const struct {
    const char *id, *name;
} known[] = {
    {"output-water-heater", "water-heater"},
    {"meter-grid", "grid"},
    {"plausible-grid", "grid"},
    {"refused-grid", "grid"},
    {"exchange-grid", "grid"},
    {"input-boost", "boost"},
    {"switch-pool-pump", "pool-pump"},
    {"lamp", ""},
    {"orders-button", ""},
    {"masters-switchboard", "switchboard"},
    {"ledger", ""},
    {"mqtt", ""},
    {"settings", ""},
    {"settings-kept", ""},
    {"secrets", ""},
    {"orders", ""},
    {"orders-socket", ""},
    {"orders-broker", ""},
    {"order-refused", ""},
    {"gateway", ""},
    {"on-fault", ""},
};

START_TEST(test_each_known_fault_tells_what_to_do_first)
{
    for (size_t k = 0; k < COUNT_OF(known); k++) {
        char first[TEXT_MOST];
        struct text text = text_in(first, sizeof(first));
        struct fault fault = {.load = FAULT_OF_SITE};
        memcpy(fault.id, known[k].id, strlen(known[k].id) + 1);
        fault_write_first(&fault, &text);
        ck_assert_msg(text.used > 10 && !text.full, "%s: %s", known[k].id, first);
        ck_assert(fault_id_ok(known[k].id));
        ck_assert_str_eq(fault_id_name(known[k].id), known[k].name);
    }
}
END_TEST

START_TEST(test_each_finding_is_a_fault_by_its_id)
{
    for (int k = FINDING_NONE + 1; k < FINDING_COUNT; k++) {
        char id[FAULT_ID_MAX];
        struct text text = text_in(id, sizeof(id));
        text_add(&text, "%s-pool-pump", finding_id((enum finding_kind)k));
        ck_assert_msg(fault_id_ok(id), "%s", id);
        ck_assert_str_eq(fault_id_name(id), "pool-pump");
    }
}
END_TEST

START_TEST(test_what_is_no_fault_is_none)
{
    const char *const others[] = {"water-heater", "site",       "grid", "meter", "meter-",
                                  "no-power",     "settings-x", "",     "faults"};
    for (size_t k = 0; k < COUNT_OF(others); k++)
        ck_assert_msg(!fault_id_ok(others[k]), "%s", others[k]);
}
END_TEST

START_TEST(test_what_is_inferred_is_never_certain)
{
    char sure[40];
    struct text text = text_in(sure, sizeof(sure));
    fault_write_sure(&(struct finding){.kind = FINDING_NO_POWER, .sure_permille = 1000}, &text);
    ck_assert_str_eq(sure, "very likely, 99 %");
    text = text_in(sure, sizeof(sure));
    fault_write_sure(&(struct finding){.kind = FINDING_NO_POWER, .sure_permille = 912}, &text);
    ck_assert_str_eq(sure, "likely, 91 %");
    text = text_in(sure, sizeof(sure));
    fault_write_sure(&(struct finding){.kind = FINDING_NONE}, &text);
    ck_assert_str_eq(sure, "");
    fault_write_sure(&(struct finding){.kind = FINDING_METER_STUCK}, &text);
    ck_assert_str_eq(sure, "");
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_known_fault_tells_what_to_do_first,
        test_each_finding_is_a_fault_by_its_id,
        test_what_is_no_fault_is_none,
        test_what_is_inferred_is_never_certain,
    };
    return suite_run("fault", tests, COUNT_OF(tests));
}
