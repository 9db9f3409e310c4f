/* test_orders.c - what people send, well and badly, through a real broker.
 *
 * MQTT 3.1.1 (OASIS): 3.3.1.3 RETAIN, 4.3.3 QoS 2. Homie convention 5: "/set" and
 * "$target" under "Property Attributes". */
#include <check.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "house.h"

static struct broker broker;
static struct child *tree;
static struct mailbox *inbox;
static struct mqtt *mqtt;
static char line[RIG_LINE_MAX];

static void begin_with(const struct mqtt_settings *settings)
{
    tree = watch(&broker, "homie/#");
    mqtt = house_start(settings, &inbox);
    child_wait(tree, "homie/5/sluice/$state ready", line);
}

static void begin(void)
{
    broker = broker_start("");
    struct mqtt_settings settings = rig_settings(&broker);
    begin_with(&settings);
}

static void end(void)
{
    house_stop(mqtt, inbox);
    child_end(tree, SIGKILL);
    broker_clean(&broker);
}

static void order(const char *property, const char *arguments)
{
    char all[1024];
    snprintf(all, sizeof(all), "-t homie/5/sluice/water-heater/%s/set %s", property, arguments);
    broker_publish(&broker, all);
}

static struct mqtt_message next_order(void)
{
    struct mqtt_message message;
    mailbox_wait(inbox);
    ck_assert(mailbox_take(inbox, &message));
    return message;
}

static bool nothing_came(void)
{
    struct mqtt_message message;
    return !mailbox_take(inbox, &message);
}

/* What was refused has been said on the broker when this returns. */
static void expect_refusal(const char *why)
{
    child_wait(tree, "$alert/order-refused ", line);
    ck_assert_msg(strstr(line, why) != NULL, "\"%s\" is not in \"%s\"", why, line);
    ck_assert(nothing_came());
}

/* ---- good ones -------------------------------------------------------------------- */

START_TEST(test_order_reaches_the_loop_and_becomes_the_target)
{
    order("order", "-m 'on 2 h'");
    struct mqtt_message message = next_order();
    ck_assert_int_eq(message.property, ORDER);
    ck_assert_str_eq(message.value, "on 2 h");
    ck_assert_uint_eq(message.length, 6);
    ck_assert_str_eq(message.topic, "homie/5/sluice/water-heater/order/set");
    child_wait(tree, "0 homie/5/sluice/water-heater/order/$target on 2 h", line);
    mqtt_value(mqtt, ORDER, "on until 17:00");
    child_wait(tree, "order on until", line);
}
END_TEST

START_TEST(test_each_datatype_takes_its_orders)
{
    static const struct {
        const char *property, *payload, *value;
        int index;
    } good[] = {{"mode", "-m off", "off", MODE},
                {"enable", "-m false", "false", ENABLE},
                {"boost", "-m 28", "28", BOOST}};
    for (size_t i = 0; i < sizeof(good) / sizeof(good[0]); i++) {
        order(good[i].property, good[i].payload);
        struct mqtt_message message = next_order();
        ck_assert_int_eq(message.property, good[i].index);
        ck_assert_str_eq(message.value, good[i].value);
    }
    /* on a slow machine the tree as it began may be still to come */
    child_wait(tree, "0 homie/5/sluice/water-heater/boost/$target 28", line);
}
END_TEST

/* A person who gives it twice means it twice; its end is absolute, made elsewhere. */
START_TEST(test_order_given_twice_comes_twice_and_no_more)
{
    order("mode", "-m on");
    ck_assert_str_eq(next_order().value, "on");
    order("mode", "-m on");
    ck_assert_str_eq(next_order().value, "on");
    order("mode", "-m auto");
    ck_assert_str_eq(next_order().value, "auto");
    ck_assert(nothing_came());
}
END_TEST

START_TEST(test_target_of_an_order_that_cannot_be_obeyed_goes_back)
{
    order("order", "-m 'on for ever and a day'");
    struct mqtt_message message = next_order();
    child_wait(tree, "$target on for ever and a day", line);
    mqtt_order_refused(mqtt, message.property);
    child_wait(tree, "order/$target", line);
    ck_assert_str_eq(line, "0 homie/5/sluice/water-heater/order/$target auto");
}
END_TEST

/* ---- bad ones --------------------------------------------------------------------------- */

struct bad {
    const char *property, *payload, *why;
};

static const struct bad bad[] = {
    {"mode", "-m maybe", "one of auto,on,off"},
    {"mode", "-m ON", "one of auto,on,off"},
    {"enable", "-m yes", "true or false"},
    {"order", "-n", "empty"},
    {"mode", "-n", "empty"},
    {"order", "-f FOLDER/zero", "control character"},
    {"order", "-f FOLDER/latin", "not UTF-8"},
    {"order", "-f FOLDER/long", "at most 159"},
    /* what the broker keeps from us: too large a packet, and topics not subscribed to */
    {"order", "-f FOLDER/huge", ""},
    {"power", "-m 5", ""},
    {"nothing", "-m 5", ""},
    {"mode/deeper", "-m on", ""},
};

START_TEST(test_bad_orders_are_refused_and_explained)
{
    const struct bad *one = &bad[_i];
    char arguments[256], *place;
    rig_shell("cd %s && printf 'on\\0' > zero && printf 'w\\344rme' > latin && "
              "head -c 160 /dev/zero | tr '\\0' a > long && head -c 5000000 /dev/zero > huge",
              broker.folder);
    snprintf(arguments, sizeof(arguments), "%s", one->payload);
    if ((place = strstr(arguments, "FOLDER")))
        snprintf(arguments, sizeof(arguments), "-f %s%s", broker.folder, one->payload + 9);
    order(one->property, arguments);
    if (one->why[0]) {
        expect_refusal(one->why);
        return;
    }
    order("mode", "-m on"); /* the next that comes is the next that was sent */
    ck_assert_str_eq(next_order().topic, "homie/5/sluice/water-heater/mode/set");
    ck_assert(nothing_came());
}
END_TEST

START_TEST(test_next_good_order_solves_the_alert)
{
    order("mode", "-m maybe");
    expect_refusal("maybe");
    order("mode", "-m on");
    child_wait(tree, "$alert/order-refused", line);
    ck_assert_str_eq(line, "0 homie/5/sluice/$alert/order-refused ");
}
END_TEST

START_TEST(test_alert_of_the_loop_is_not_solved_by_the_next_good_order)
{
    char payload[RIG_LINE_MAX];
    mqtt_alert(mqtt, "order-refused", "on for ever: refused");
    child_wait(tree, "$alert/order-refused on for ever", line);
    order("mode", "-m on");
    child_wait(tree, "mode/$target on", line);
    retained_at(&broker, "homie/5/sluice/$alert/order-refused", payload);
    ck_assert_str_eq(payload, "on for ever: refused");
}
END_TEST

/* The mailbox holds eight. */
START_TEST(test_flood_at_one_property_leaves_its_last_and_keeps_nobody_else_out)
{
    char payload[32];
    order("mode", "-m off");
    for (int i = 0; i < 20; i++) {
        snprintf(payload, sizeof(payload), "-m %d", i * 5);
        order("boost", payload);
    }
    order("enable", "-m false");
    child_wait(tree, "enable/$target false", line);
    ck_assert_str_eq(next_order().value, "off");
    ck_assert_str_eq(next_order().value, "95");
    ck_assert_str_eq(next_order().value, "false");
    ck_assert(nothing_came());
}
END_TEST

/* ---- old ones ---------------------------------------------------------------------------------
 */

static void begin_after_a_retained_order(void)
{
    broker = broker_start("");
    order("mode", "-m on -r");
    struct mqtt_settings settings = rig_settings(&broker);
    tree = watch(&broker, "homie/#"); /* the refusal may come before the house is ready */
    mqtt = house_start(&settings, &inbox);
}

START_TEST(test_retained_order_is_not_obeyed)
{
    expect_refusal("retained");
    order("mode", "-m off"); /* the first that comes is a live one */
    ck_assert_str_eq(next_order().value, "off");
    ck_assert(nothing_came());
}
END_TEST

/* ---- none at all --------------------------------------------------------------------------------
 */

static void begin_deaf(void)
{
    broker = broker_start("");
    struct mqtt_settings settings = rig_settings(&broker);
    settings.accept_orders = false;
    begin_with(&settings);
}

START_TEST(test_house_that_takes_no_orders_obeys_none)
{
    order("mode", "-m on");
    expect_refusal("orders are not accepted");
}
END_TEST

/* ---- other topics
 * ---------------------------------------------------------------------------------- */

START_TEST(test_state_of_a_device_is_heard_retained_or_not)
{
    broker_publish(&broker, "-t relay/state -m ON -r");
    ck_assert(mqtt_listen(mqtt, "relay/state"));
    struct mqtt_message message = next_order();
    ck_assert_int_eq(message.property, -1);
    ck_assert_str_eq(message.topic, "relay/state");
    ck_assert_str_eq(message.value, "ON");
    broker_publish(&broker, "-t relay/state -m OFF");
    ck_assert_str_eq(next_order().value, "OFF");
    ck_assert(!mqtt_listen(mqtt, "relay/#/state"));
}
END_TEST

START_TEST(test_message_that_cannot_be_taken_is_said_by_its_topic_until_one_can)
{
    ck_assert(mqtt_listen(mqtt, "relay/state"));
    rig_shell("head -c 161 /dev/zero | tr '\\0' a > %s/long", broker.folder);
    char arguments[256];
    snprintf(arguments, sizeof(arguments), "-t relay/state -f %s/long", broker.folder);
    broker_publish(&broker, arguments);
    child_wait(tree, "$alert/message-refused ", line);
    ck_assert_ptr_nonnull(strstr(line, "relay/state: "));
    ck_assert(nothing_came());
    broker_publish(&broker, "-t relay/state -m ON");
    ck_assert_str_eq(next_order().value, "ON");
    child_wait(tree, "$alert/message-refused", line);
    ck_assert_str_eq(line, "0 homie/5/sluice/$alert/message-refused ");
}
END_TEST

START_TEST(test_message_to_a_device_arrives_unretained)
{
    struct child *relay = watch(&broker, "relay/set");
    ck_assert(mqtt_send(mqtt, "relay/set", "on"));
    ck_assert_str_eq(child_line(relay, line), "0 relay/set on");
    child_end(relay, SIGKILL);
    ck_assert_str_eq(retained_at(&broker, "relay/set", line), "");
}
END_TEST

static TCase *with(Suite *suite, const char *name, void (*setup)(void))
{
    TCase *cases = tcase_create(name);
    tcase_set_timeout(cases, 120);
    tcase_add_checked_fixture(cases, setup, end);
    suite_add_tcase(suite, cases);
    return cases;
}

int main(void)
{
    Suite *suite = suite_create("orders");
    TCase *cases = with(suite, "orders", begin);
    tcase_add_test(cases, test_order_reaches_the_loop_and_becomes_the_target);
    tcase_add_test(cases, test_each_datatype_takes_its_orders);
    tcase_add_test(cases, test_order_given_twice_comes_twice_and_no_more);
    tcase_add_test(cases, test_target_of_an_order_that_cannot_be_obeyed_goes_back);
    tcase_add_loop_test(cases, test_bad_orders_are_refused_and_explained, 0,
                        (int)(sizeof(bad) / sizeof(bad[0])));
    tcase_add_test(cases, test_next_good_order_solves_the_alert);
    tcase_add_test(cases, test_alert_of_the_loop_is_not_solved_by_the_next_good_order);
    tcase_add_test(cases, test_flood_at_one_property_leaves_its_last_and_keeps_nobody_else_out);
    tcase_add_test(cases, test_state_of_a_device_is_heard_retained_or_not);
    tcase_add_test(cases, test_message_that_cannot_be_taken_is_said_by_its_topic_until_one_can);
    tcase_add_test(cases, test_message_to_a_device_arrives_unretained);
    cases = with(suite, "retained", begin_after_a_retained_order);
    tcase_add_test(cases, test_retained_order_is_not_obeyed);
    cases = with(suite, "deaf", begin_deaf);
    tcase_add_test(cases, test_house_that_takes_no_orders_obeys_none);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
