/* test_gateway.c - the gateway's section: what it becomes, and what is wrong with it. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define MQTT "mqtt:\n"

static const char whole[] =
    "gateway:\n"
    "  listen: 192.0.2.20\n"
    "  tcp_port: 1502\n"
    "  allow: [192.0.2.0/24, \"2001:db8::17\"]\n"
    "  port: /dev/ttyS8\n"
    "  baud: 19200\n"
    "  parity: even\n"
    "  age: 5 s\n"
    "  serve:\n"
    "    - {meter: grid, writable: [holding 100-110, coil 3]}\n"
    "    - {meter: grid, view: sunspec, unit: 126}\n"
    "    - {meter: grid, view: sunspec-float, unit: 127, wiring: delta}\n" MQTT;

static struct settings *load_with(const char *gateway)
{
    char *text = edited(small_house, MQTT, gateway);
    struct settings *settings = load_good(text);
    free(text);
    return settings;
}

START_TEST(test_without_the_section_there_is_no_gateway)
{
    struct settings *settings = load_good(small_house);
    ck_assert(!settings->gateway.enabled);
    settings_free(settings);
}
END_TEST

START_TEST(test_a_short_section_is_on_loopback_and_lets_nobody_write)
{
    struct settings *settings = load_with("gateway: {serve: [{meter: grid}]}\n" MQTT);
    const struct gateway_settings *gateway = &settings->gateway;
    ck_assert(gateway->enabled);
    ck_assert_str_eq(gateway->listen, "127.0.0.1");
    ck_assert_int_eq(gateway->tcp_port, 502);
    ck_assert_str_eq(gateway->port, "");
    ck_assert_uint_eq(gateway->served_count, 1);
    ck_assert_uint_eq(gateway->served[0].unit, 2); /* the meter's own */
    ck_assert_uint_eq(gateway->served[0].range_count, 0);
    ck_assert_int_eq(gateway->served[0].view, GATEWAY_REGISTERS);
    settings_free(settings);
}
END_TEST

START_TEST(test_a_whole_section_becomes_what_it_says)
{
    struct settings *settings = load_with(whole);
    const struct gateway_settings *gateway = &settings->gateway;
    ck_assert_uint_eq(gateway->allowed_count, 2);
    ck_assert_uint_eq(gateway->allowed[0].bits, 120);
    ck_assert_str_eq(gateway->port, "/dev/ttyS8");
    ck_assert_int_eq(gateway->baud, 19200);
    ck_assert_int_eq(gateway->age_ms, 5000);
    ck_assert_uint_eq(gateway->served_count, 3);
    ck_assert_uint_eq(gateway->served[0].range_count, 2);
    ck_assert_uint_eq(gateway->served[0].range[0].last, 110);
    ck_assert(gateway->served[0].range[1].coils);
    ck_assert_uint_eq(gateway->served[1].unit, 126);
    ck_assert_int_eq(gateway->served[1].wiring, GATEWAY_SINGLE); /* as the site */
    ck_assert_int_eq(gateway->served[2].wiring, GATEWAY_DELTA);
    ck_assert_uint_eq(gateway->served[2].bus_unit, 2);
    ck_assert_str_eq(gateway->served[2].device, "sunspec");
    settings_free(settings);
}
END_TEST

/* The description without its line breaks. */
static char *told(const struct settings *settings)
{
    char *text = described(settings), *to = text;
    for (const char *from = text; *from; from++) {
        bool wrapped = *from == '\n';
        *to++ = wrapped ? ' ' : *from;
        from += wrapped ? strspn(from + 1, " ") : 0;
    }
    *to = '\0';
    return text;
}

START_TEST(test_what_it_gives_to_whom_is_told)
{
    static const char *const sentences[] = {
        "Modbus TCP on 192.0.2.20 port 1502, for the peers listed",
        "Modbus RTU on /dev/ttyS8",
        "Meter grid is unit 2 there, as its own registers",
        "Meter grid is unit 126 there, as a SunSpec meter; nothing can be written",
        "keeps its own wire",
    };
    struct settings *settings = load_with(whole);
    char *text = told(settings);
    for (size_t k = 0; k < COUNT_OF(sentences); k++)
        ck_assert_msg(strstr(text, sentences[k]) != NULL, "\"%s\" is not in:\n%s", sentences[k],
                      text);
    free(text);
    settings_free(settings);
}
END_TEST

/* The shipped house with its gateway's comment marks taken off. */
START_TEST(test_the_gateway_of_the_shipped_house_is_accepted)
{
    static char text[65536];
    char line[256];
    size_t used = 0;
    bool within = false;
    FILE *file = fopen(CONF_DIR "/sluice.yaml", "re");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof(line), file)) {
        within = line[0] == '#' && (within || strcmp(line, "#gateway:\n") == 0);
        used += (size_t)snprintf(text + used, sizeof(text) - used, "%s", line + within);
        ck_assert_uint_lt(used, sizeof(text));
    }
    fclose(file);
    struct settings *settings = load_good(text);
    ck_assert(settings->gateway.enabled);
    ck_assert_uint_eq(settings->gateway.served_count, 2);
    settings_free(settings);
}
END_TEST

/* The small house on three phases. */
static char *three_phases(void)
{
    static const char *const changes[][2] = {
        {"phases: 1", "phases: 3\n  billing: net"},
        {"    thermostat: yes\n", "    thermostat: yes\n    phases: L1\n"},
        {"    group: shed\n", "    group: shed\n    phases: L2\n"},
        {"    kind: setpoint\n", "    kind: setpoint\n    phases: L3\n"},
    };
    char *text =
        edited(small_house, MQTT, "gateway: {serve: [{meter: grid, view: sunspec}]}\n" MQTT);
    for (size_t k = 0; k < COUNT_OF(changes); k++) {
        char *next = edited(text, changes[k][0], changes[k][1]);
        free(text);
        text = next;
    }
    return text;
}

/* 16 bits hold a quarter more than the supply gives: 63 A at 230 V are 14.5 kW on one
 * phase, and 189 A and 43.5 kW on three. */
START_TEST(test_scale_factors_are_the_finest_that_hold_the_supply)
{
    struct settings *one = load_with("gateway: {serve: [{meter: grid, view: sunspec}]}\n" MQTT);
    ck_assert_int_eq(one->gateway.served[0].current_exp, -2);
    ck_assert_int_eq(one->gateway.served[0].power_exp, 0);
    settings_free(one);
    char *text = three_phases();
    struct settings *three = load_good(text);
    ck_assert_int_eq(three->gateway.served[0].wiring, GATEWAY_WYE);
    ck_assert_int_eq(three->gateway.served[0].current_exp, -2);
    ck_assert_int_eq(three->gateway.served[0].power_exp, 1);
    settings_free(three);
    free(text);
}
END_TEST

/* One change to the whole section, and what is then said. */
static const struct mistake mistakes[] = {
    {"  allow: [192.0.2.0/24, \"2001:db8::17\"]\n", "", "192.0.2.20",
     "listen: beyond loopback it needs allow: the peers that may connect, such as [192.0.2.7]"},
    {"192.0.2.20", "gateway.example", "gateway.example",
     "listen: \"gateway.example\" is not an address, such as 192.0.2.20"},
    {"192.0.2.0/24", "192.0.2.0/40", "192.0.2.0/40",
     "allow: \"192.0.2.0/40\": behind the slash stands a number up to 32"},
    {"192.0.2.0/24", "192.0.2.7/24", "192.0.2.7/24",
     "allow: \"192.0.2.7/24\" is an address within a network, not the network"},
    {"/dev/ttyS8", "/dev/ttyS9", "/dev/ttyS9\n  baud",
     "port: bus board uses it already; the gateway needs a second one"},
    {"baud: 19200", "baud: 19000", "19000",
     "baud: 19000 is not a serial speed: 9600 or 19200 are usual"},
    {"  port: /dev/ttyS8\n  baud: 19200\n  parity: even\n", "  baud: 19200\n", "baud: 19200",
     "baud goes only with port"},
    {"tcp_port: 1502\n", "tcp_port: 70000\n", "70000",
     "tcp_port: 70000 is out of range; from 0 to 65535"},
    {"age: 5 s", "age: 1 s", "{meter: grid, view: sunspec, unit: 126}", NULL},
    {"{meter: grid, writable", "{meter: gird, writable", "gird",
     "meter: there is no meter \"gird\"; do you mean \"grid\"?"},
    {"unit: 127", "unit: 126", "126, wiring", "unit: 126 is served already, for meter grid"},
    {"unit: 127", "unit: 2", "2, wiring", "unit: 2 is served already, for meter grid"},
    {"holding 100-110", "input 100", "input 100",
     "writable: \"input 100\" is not a range; write one such as holding 100-110, or coil 0"},
    {"writable: [holding", "wiring: wye, writable: [holding", "wiring: wye",
     "wiring goes only with view: sunspec or sunspec-float"},
    {"wiring: delta", "writable: [coil 1]", "writable: [coil 1]",
     "writable goes only with view: registers"},
    {"  age: 5 s\n", "  age: 5 s\n  speed: 9600\n", "speed",
     "gateway has no setting \"speed\"; here that is \"baud\""},
};

START_TEST(test_each_mistake_is_told_at_its_place)
{
    for (size_t k = 0; k < COUNT_OF(mistakes); k++) {
        char *gateway = edited(whole, mistakes[k].find, mistakes[k].write);
        char *text = edited(small_house, MQTT, gateway);
        if (mistakes[k].says) {
            expect_only(text, mistakes[k].at, mistakes[k].says);
        } else { /* both views */
            struct settings_troubles troubles = {0};
            ck_assert_ptr_null(load_text(text, &troubles));
            ck_assert_int_eq(troubles.count, 2);
            ck_assert_ptr_nonnull(
                strstr(troubles.item[0].text, "at least twice the meter's every"));
            settings_troubles_free(&troubles);
        }
        free(text);
        free(gateway);
    }
}
END_TEST

START_TEST(test_a_gateway_that_serves_nothing_or_nowhere_is_a_mistake)
{
    static const struct {
        const char *gateway, *at, *says;
    } cases[] = {
        {"gateway: {tcp_port: 502}\n" MQTT, "gateway",
         "gateway needs serve: a list of meters, such as [{meter: grid}]"},
        {"gateway: {serve: []}\n" MQTT, "[]}", "serve: lists nothing"},
        {"gateway: {serve: grid}\n" MQTT, "grid}\n",
         "a list of what is served is expected here, not a single value"},
        {"gateway: {tcp_port: 0, serve: [{meter: grid}]}\n" MQTT, "gateway",
         "the gateway listens nowhere: write tcp_port or port"},
        {"gateway:\n" MQTT, "gateway", "the section gateway is empty"},
    };
    for (size_t k = 0; k < COUNT_OF(cases); k++) {
        char *text = edited(small_house, MQTT, cases[k].gateway);
        expect_only(text, cases[k].at, cases[k].says);
        free(text);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_without_the_section_there_is_no_gateway,
        test_a_short_section_is_on_loopback_and_lets_nobody_write,
        test_a_whole_section_becomes_what_it_says,
        test_what_it_gives_to_whom_is_told,
        test_the_gateway_of_the_shipped_house_is_accepted,
        test_scale_factors_are_the_finest_that_hold_the_supply,
        test_each_mistake_is_told_at_its_place,
        test_a_gateway_that_serves_nothing_or_nowhere_is_a_mistake,
    };
    return suite_run("settings-gateway", tests, COUNT_OF(tests));
}
