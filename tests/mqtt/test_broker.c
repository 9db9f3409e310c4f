/* test_broker.c - brokers that die, hang, refuse, or are none.
 *
 * MQTT 3.1.1 (OASIS): 3.1.2.5 will, 3.1.2.10 keep alive, 3.2.2.3 return codes. */
#include <check.h>
#include <malloc.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "house.h"

/* What a sanitizer keeps of freed memory is its own affair. */
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
enum { GROWTH_KIB = 64 * 1024 };
#else
enum { GROWTH_KIB = 256 };
#endif

enum { RESTARTS = 5, FLOOD = 200000 };

static struct broker broker;
static struct mailbox *inbox;
static struct mqtt *mqtt;
static char line[RIG_LINE_MAX];

static void clean(void)
{
    if (mqtt)
        house_stop(mqtt, inbox);
    broker_clean(&broker);
}

static void start(const struct mqtt_settings *settings)
{
    mqtt = house_start(settings, &inbox);
}

static void wait_until_ready(void)
{
    struct child *state = follow(&broker, "homie/5/sluice/$state");
    child_wait(state, "$state ready", line);
    child_end(state, SIGKILL);
}

static void begin(void)
{
    broker = broker_start("");
    struct mqtt_settings settings = rig_settings(&broker);
    start(&settings);
    wait_until_ready();
}

static void restart_broker(void)
{
    broker = broker_start_at(broker.port, broker.folder);
}

static void count(void *context, const char *topic, const char *payload)
{
    (void)context, (void)topic, (void)payload;
}

/* ---- a broker that comes and goes ------------------------------------------------------ */

/* The broker has no memory of its own: what stands there after was said again. */
START_TEST(test_broker_killed_and_restarted_has_everything_again_and_costs_no_memory)
{
    int topics = retained(&broker, "homie/#", count, NULL);
    long before_kib = 0;
    for (int i = 0; i < RESTARTS; i++) {
        broker_kill(&broker);
        snprintf(line, sizeof(line), "%d", i);
        mqtt_value(mqtt, POWER, line);
        restart_broker();
        wait_until_ready();
        ck_assert_int_eq(retained(&broker, "homie/#", count, NULL), topics);
        if (i == 0)
            before_kib = rig_anon_kib();
    }
    ck_assert_str_eq(retained_at(&broker, "homie/5/sluice/water-heater/power", line), "4");
    ck_assert_int_le(rig_anon_kib() - before_kib, GROWTH_KIB);
}
END_TEST

/* What was on its way when the broker died must not come after what is now. */
START_TEST(test_value_from_before_does_not_come_after_a_newer_one)
{
    child_signal(broker.child, SIGSTOP);
    for (int i = 0; i < 50; i++) {
        snprintf(line, sizeof(line), "%d", i);
        mqtt_value(mqtt, POWER, line);
        mqtt_value(mqtt, GRID_POWER, line);
    }
    broker_kill(&broker);
    mqtt_value(mqtt, POWER, "999");
    mqtt_value(mqtt, GRID_POWER, "-999");
    restart_broker();
    wait_until_ready();
    ck_assert_str_eq(retained_at(&broker, "homie/5/sluice/water-heater/power", line), "999");
    ck_assert_str_eq(retained_at(&broker, "homie/5/sluice/site/grid-power", line), "-999");
}
END_TEST

START_TEST(test_broker_that_takes_nothing_costs_no_memory_and_gets_the_last_value)
{
    long before_kib = rig_anon_kib();
    child_signal(broker.child, SIGSTOP);
    for (int i = 0; i <= FLOOD; i++) {
        snprintf(line, sizeof(line), "%d", i);
        mqtt_value(mqtt, POWER, line);
    }
    int sent = 0;
    while (sent < 1000 && mqtt_send(mqtt, "relay/set", "on"))
        sent++;
    ck_assert_int_lt(sent, 1000);
    ck_assert_int_le(rig_anon_kib() - before_kib, GROWTH_KIB);
    child_signal(broker.child, SIGCONT);
    struct child *power = watch(&broker, "homie/5/sluice/water-heater/power");
    snprintf(line, sizeof(line), "%d", FLOOD + 1);
    mqtt_value(mqtt, POWER, line);
    child_wait(power, " 200001", line);
    child_end(power, SIGKILL);
}
END_TEST

START_TEST(test_house_leaves_a_broker_that_hangs)
{
    child_signal(broker.child, SIGSTOP);
    house_stop(mqtt, inbox); /* comes back */
    mqtt = NULL;
}
END_TEST

static void stop_broker(void)
{
    child_end(broker.child, SIGTERM);
    broker.child = NULL;
}

static void restart_with_a_memory(void)
{
    stop_broker();
    rig_shell("cd %s && printf 'user root\\npersistence true\\npersistence_location %s/\\n' >> "
              "mosquitto.conf",
              broker.folder, broker.folder);
    restart_broker();
    wait_until_ready();
}

START_TEST(test_alert_solved_while_the_broker_was_away_does_not_stand_there)
{
    restart_with_a_memory();
    struct child *alerts = watch(&broker, "homie/5/sluice/$alert/+");
    mqtt_alert(mqtt, "pump", "stuck");
    mqtt_alert(mqtt, "meter", "silent");
    child_wait(alerts, "meter silent", line);
    child_end(alerts, SIGKILL);
    /* This broker will remember it, and the "ready" waited for is the next. */
    broker_publish(&broker, "-t 'homie/5/sluice/$state' -m before -r");
    stop_broker();
    mqtt_alert(mqtt, "pump", NULL);
    restart_broker();
    wait_until_ready();
    ck_assert_int_eq(retained(&broker, "homie/5/sluice/$alert/+", count, NULL), 1);
    ck_assert_str_eq(retained_at(&broker, "homie/5/sluice/$alert/meter", line), "silent");
}
END_TEST

/* ---- a steady turn ------------------------------------------------------------------------ */

START_TEST(test_unchanged_values_allocate_nothing)
{
    struct mallinfo2 before = mallinfo2();
    for (int i = 0; i < 1000; i++)
        house_values(mqtt);
    struct mallinfo2 after = mallinfo2();
    ck_assert_uint_eq(after.uordblks, before.uordblks);
    ck_assert_uint_eq(after.hblkhd, before.hblkhd);
}
END_TEST

/* ---- brokers that refuse, or are none ------------------------------------------------------ */

static void begin_with_password(void)
{
    broker = broker_start("");
    broker_kill(&broker);
    rig_shell("cd %s && mosquitto_passwd -b -c users sluice 'right one' && chmod 644 users && "
              "printf 'listener %d 127.0.0.1\\npassword_file %s/users\\n' > mosquitto.conf",
              broker.folder, broker.port, broker.folder);
    restart_broker();
}

static struct mqtt_settings with_user(void)
{
    struct mqtt_settings settings = rig_settings(&broker);
    snprintf(settings.user, sizeof(settings.user), "sluice");
    snprintf(settings.password_file, sizeof(settings.password_file), "%s/password", broker.folder);
    return settings;
}

START_TEST(test_wrong_password_is_told_and_the_right_one_is_found_without_a_restart)
{
    struct mqtt_settings settings = with_user();
    char text[MQTT_VALUE_MAX];
    rig_write(broker.folder, "password", "wrong one\n");
    start(&settings);
    rig_expect_trouble(mqtt, "refuses us");
    mqtt_trouble(mqtt, text);
    ck_assert_ptr_null(strstr(text, "wrong one"));
    rig_write(broker.folder, "password", "right one\n");
    rig_until_connected(mqtt);
    mqtt_trouble(mqtt, text);
    ck_assert_str_eq(text, "");
}
END_TEST

START_TEST(test_password_file_that_is_not_there_is_named)
{
    struct mqtt_settings settings = with_user();
    start(&settings);
    rig_expect_trouble(mqtt, "/password: No such file");
    rig_write(broker.folder, "password", "\n");
    rig_expect_trouble(mqtt, "/password: it is empty");
    rig_write(broker.folder, "password", "right one"); /* without an end of line */
    rig_until_connected(mqtt);
}
END_TEST

START_TEST(test_credential_is_found_where_the_service_manager_puts_it)
{
    struct mqtt_settings settings = with_user();
    rig_write(broker.folder, "password", "right one\n");
    setenv("CREDENTIALS_DIRECTORY", broker.folder, 1);
    snprintf(settings.password_file, sizeof(settings.password_file), "password");
    start(&settings);
    rig_until_connected(mqtt);
}
END_TEST

static void begin_without(void)
{
    broker = broker_start("");
    broker_kill(&broker);
}

START_TEST(test_nobody_at_the_port_is_told_and_a_broker_that_comes_is_found)
{
    struct mqtt_settings settings = rig_settings(&broker);
    start(&settings);
    rig_expect_trouble(mqtt, "Connection refused");
    restart_broker();
    wait_until_ready();
}
END_TEST

/* RFC 6761: names below .invalid do not exist. */
START_TEST(test_host_that_does_not_exist_is_told)
{
    struct mqtt_settings settings = rig_settings(&broker);
    snprintf(settings.host, sizeof(settings.host), "broker.invalid");
    start(&settings);
    rig_expect_trouble(mqtt, "broker.invalid:");
    rig_expect_trouble(mqtt, "no such host");
}
END_TEST

START_TEST(test_broker_that_takes_the_connection_and_is_silent_is_told)
{
    struct mqtt_settings settings = rig_settings(&broker);
    struct rig_listener listener = rig_listen_at(broker.port);
    settings.keep_alive_ms = 5000;
    start(&settings);
    int fd = rig_accept(&listener);
    rig_expect_trouble(mqtt, "does not answer");
    ck_assert(!mqtt_connected(mqtt));
    close(fd);
    close(listener.fd);
}
END_TEST

/* The library's own thread would end here, for good. */
START_TEST(test_something_that_is_no_broker_does_not_keep_us_from_one)
{
    static const char *const garbage[] = {"HTTP/1.1 400 Bad Request\r\n\r\n",
                                          "\xff\xff\xff\xff\xff\xff"};
    struct mqtt_settings settings = rig_settings(&broker);
    struct rig_listener listener = rig_listen_at(broker.port);
    start(&settings);
    for (size_t i = 0; i < 2; i++) {
        int fd = rig_accept(&listener);
        ck_assert_int_gt(write(fd, garbage[i], strlen(garbage[i])), 0);
        close(fd);
    }
    close(listener.fd);
    restart_broker();
    wait_until_ready();
}
END_TEST

static TCase *with(Suite *suite, const char *name, void (*setup)(void))
{
    TCase *cases = tcase_create(name);
    tcase_set_timeout(cases, 120);
    tcase_add_checked_fixture(cases, setup, clean);
    suite_add_tcase(suite, cases);
    return cases;
}

int main(void)
{
    Suite *suite = suite_create("broker");
    TCase *cases = with(suite, "comes and goes", begin);
    tcase_add_test(cases,
                   test_broker_killed_and_restarted_has_everything_again_and_costs_no_memory);
    tcase_add_test(cases, test_value_from_before_does_not_come_after_a_newer_one);
    tcase_add_test(cases, test_broker_that_takes_nothing_costs_no_memory_and_gets_the_last_value);
    tcase_add_test(cases, test_house_leaves_a_broker_that_hangs);
    tcase_add_test(cases, test_alert_solved_while_the_broker_was_away_does_not_stand_there);
    tcase_add_test(cases, test_unchanged_values_allocate_nothing);
    cases = with(suite, "password", begin_with_password);
    tcase_add_test(cases, test_wrong_password_is_told_and_the_right_one_is_found_without_a_restart);
    tcase_add_test(cases, test_password_file_that_is_not_there_is_named);
    tcase_add_test(cases, test_credential_is_found_where_the_service_manager_puts_it);
    cases = with(suite, "none", begin_without);
    tcase_add_test(cases, test_nobody_at_the_port_is_told_and_a_broker_that_comes_is_found);
    tcase_add_test(cases, test_host_that_does_not_exist_is_told);
    tcase_add_test(cases, test_broker_that_takes_the_connection_and_is_silent_is_told);
    tcase_add_test(cases, test_something_that_is_no_broker_does_not_keep_us_from_one);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
