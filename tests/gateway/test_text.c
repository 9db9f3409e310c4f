/* Networks and ranges as people write them. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/gateway.h"

static struct trouble trouble;

START_TEST(test_networks_and_addresses_are_understood)
{
    /* RFC 4291, 2.5.5.2: an IPv4 address within IPv6; addresses of RFC 5737 and 3849 */
    static const uint8_t v4[16] = {
        [10] = 0xff, [11] = 0xff, [12] = 192, [13] = 0, [14] = 2, [15] = 7};
    static const uint8_t v6[16] = {0x20, 0x01, 0x0d, 0xb8};
    struct gateway_network network;
    ck_assert(gateway_network_parse("192.0.2.7", &network, &trouble));
    ck_assert_mem_eq(network.address, v4, 16);
    ck_assert_int_eq(network.bits, 128);
    ck_assert(gateway_network_parse("192.0.2.0/24", &network, &trouble));
    ck_assert_int_eq(network.bits, 120);
    ck_assert(gateway_network_parse("2001:db8::/32", &network, &trouble));
    ck_assert_mem_eq(network.address, v6, 16);
    ck_assert_int_eq(network.bits, 32);
    ck_assert(gateway_network_parse("0.0.0.0/0", &network, &trouble));
    ck_assert_int_eq(network.bits, 96);
}
END_TEST

START_TEST(test_what_is_no_network_is_refused)
{
    static const char *const wrong[] = {"",
                                        "192.0.2",
                                        "192.0.2.256",
                                        "192.0.2.0/33",
                                        "192.0.2.0/-1",
                                        "192.0.2.0/",
                                        "192.0.2.7/24",
                                        "meter.example",
                                        "2001:db8::/129",
                                        "::1/",
                                        "192.0.2.0/24/8",
                                        "192.0.2.0/ 24",
                                        "0123456789012345678901234567890123456789012345678901"};
    struct gateway_network network;
    for (size_t k = 0; k < sizeof(wrong) / sizeof(wrong[0]); k++)
        ck_assert_msg(!gateway_network_parse(wrong[k], &network, &trouble), "%s", wrong[k]);
}
END_TEST

/* RFC 1122, 3.2.1.3 (127/8) and RFC 4291, 2.5.3 (::1). */
START_TEST(test_loopback_is_known_from_all_else)
{
    static const struct {
        const char *text;
        bool loopback;
    } cases[] = {{"127.0.0.1", true},   {"127.1.2.3", true}, {"::1", true},
                 {"127.0.0.0/8", true}, {"0.0.0.0", false},  {"::", false},
                 {"192.0.2.1", false},  {"::2", false},      {"126.0.0.0/7", false}};
    struct gateway_network network;
    for (size_t k = 0; k < sizeof(cases) / sizeof(cases[0]); k++) {
        ck_assert(gateway_network_parse(cases[k].text, &network, &trouble));
        ck_assert_msg(gateway_is_loopback(&network) == cases[k].loopback, "%s", cases[k].text);
    }
}
END_TEST

START_TEST(test_ranges_are_understood_or_refused)
{
    static const char *const wrong[] = {
        "",           "holding", "holding ",      "input 3", "holding -1", "holding 9-8",
        "coil 65536", "coil 1-", "holding 1-2-3", "coil  1", "100-110",    "coil 0x10"};
    struct gateway_range range;
    ck_assert(gateway_range_parse("holding 100-110", &range, &trouble));
    ck_assert(!range.coils && range.first == 100 && range.last == 110);
    ck_assert(gateway_range_parse("coil 0", &range, &trouble));
    ck_assert(range.coils && range.first == 0 && range.last == 0);
    ck_assert(gateway_range_parse("holding 0-65535", &range, &trouble));
    ck_assert_int_eq(range.last, 65535);
    for (size_t k = 0; k < sizeof(wrong) / sizeof(wrong[0]); k++)
        ck_assert_msg(!gateway_range_parse(wrong[k], &range, &trouble), "%s", wrong[k]);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("text");
    TCase *tests = tcase_create("all");
    tcase_add_test(tests, test_networks_and_addresses_are_understood);
    tcase_add_test(tests, test_what_is_no_network_is_refused);
    tcase_add_test(tests, test_loopback_is_known_from_all_else);
    tcase_add_test(tests, test_ranges_are_understood_or_refused);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
