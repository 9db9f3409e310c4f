/* test_homie.c - the tree as others see it, on a real broker.
 *
 * Rules: the Homie convention 5 (homieiot/convention, convention.md): "Topic IDs",
 * "Device Attributes", "Property Attributes", "Device Lifecycle". */
#include <check.h>
#include <cjson/cJSON.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "house.h"

static struct broker broker;
static struct child *tree;
static char line[RIG_LINE_MAX];

static void begin(void)
{
    broker = broker_start("");
    tree = watch(&broker, "homie/#");
}

static void end(void)
{
    child_end(tree, SIGKILL);
    broker_clean(&broker);
}

static struct mqtt *ready_house(struct mailbox **inbox)
{
    struct mqtt_settings settings = rig_settings(&broker);
    struct mqtt *mqtt = house_start(&settings, inbox);
    /* on a busy machine the connection may be ready before the last value is set */
    bool ready = false, filled = false;
    while (!ready || !filled) {
        child_line(tree, line);
        ready |= strstr(line, "homie/5/sluice/$state ready") != NULL;
        filled |= strstr(line, "water-heater/deadline ") != NULL;
    }
    return mqtt;
}

static bool id_legal(const char *id, size_t length)
{
    return length > 0 && strspn(id, "abcdefghijklmnopqrstuvwxyz0123456789-") >= length;
}

/* ---- the tree against its own description ------------------------------------------- */

struct seen {
    cJSON *topics; /* TOPIC below the root -> payload */
};

static void see(void *context, const char *topic, const char *payload)
{
    static const char root[] = "homie/5/sluice/";
    struct seen *seen = context;
    ck_assert_msg(strncmp(topic, root, strlen(root)) == 0, "%s is not below the root", topic);
    cJSON_AddStringToObject(seen->topics, topic + strlen(root), payload);
}

static struct seen see_all(void)
{
    struct seen seen = {cJSON_CreateObject()};
    retained(&broker, "homie/#", see, &seen);
    return seen;
}

static const char *at(const struct seen *seen, const char *topic)
{
    return cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(seen->topics, topic));
}

/* Takes the topic out of what was seen: at the end nothing may be left. */
static void take(struct seen *seen, const char *topic)
{
    ck_assert_msg(at(seen, topic) != NULL, "%s is described and not there", topic);
    cJSON_DeleteItemFromObjectCaseSensitive(seen->topics, topic);
}

static void check_property(struct seen *seen, const cJSON *node, const cJSON *property)
{
    static const char *const datatypes = "integer float boolean string enum datetime json";
    const char *datatype =
        cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(property, "datatype"));
    char topic[256];
    ck_assert(id_legal(property->string, strlen(property->string)));
    ck_assert_msg(datatype && strstr(datatypes, datatype), "%s: datatype", property->string);
    if (strcmp(datatype, "enum") == 0)
        ck_assert_ptr_nonnull(cJSON_GetObjectItemCaseSensitive(property, "format"));
    snprintf(topic, sizeof(topic), "%s/%s", node->string, property->string);
    take(seen, topic);
    if (cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(property, "settable"))) {
        snprintf(topic, sizeof(topic), "%s/%s/$target", node->string, property->string);
        take(seen, topic);
    }
}

static int check_tree(struct seen *seen)
{
    cJSON *description = cJSON_Parse(at(seen, "$description"));
    const cJSON *node, *property;
    int properties = 0;
    ck_assert_ptr_nonnull(description);
    ck_assert_str_eq(cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(description, "homie")),
                     "5.0");
    ck_assert(cJSON_IsNumber(cJSON_GetObjectItemCaseSensitive(description, "version")));
    cJSON_ArrayForEach(node, cJSON_GetObjectItemCaseSensitive(description, "nodes"))
    {
        ck_assert(id_legal(node->string, strlen(node->string)));
        cJSON_ArrayForEach(property, cJSON_GetObjectItemCaseSensitive(node, "properties"))
        {
            check_property(seen, node, property);
            properties++;
        }
    }
    take(seen, "$state");
    take(seen, "$description");
    char *left = cJSON_PrintUnformatted(seen->topics);
    ck_assert_str_eq(left, "{}"); /* nothing that is not described */
    free(left);
    cJSON_Delete(description);
    cJSON_Delete(seen->topics);
    return properties;
}

static double version_now(void)
{
    char payload[RIG_LINE_MAX];
    cJSON *description = cJSON_Parse(retained_at(&broker, "homie/5/sluice/$description", payload));
    double version = cJSON_GetNumberValue(cJSON_GetObjectItemCaseSensitive(description, "version"));
    cJSON_Delete(description);
    return version;
}

START_TEST(test_everything_retained_is_described_and_everything_described_is_retained)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    struct seen seen = see_all();
    ck_assert_str_eq(at(&seen, "$state"), "ready");
    ck_assert_str_eq(at(&seen, "site/grid-power"), "-1200");
    ck_assert_str_eq(at(&seen, "water-heater/reason"), "off: spare 1.2 kW of 3.6 kW needed");
    ck_assert_int_eq(check_tree(&seen), HOUSE_COUNT);
    house_stop(mqtt, inbox);
}
END_TEST

/* "init ... when the device is connected but has not yet sent all messages" */
START_TEST(test_house_introduces_itself_before_it_is_ready)
{
    static const char *const order[] = {"$state init", "$description {", "site/grid-power -1200",
                                        "$state ready"};
    struct mailbox *inbox;
    struct mqtt_settings settings = rig_settings(&broker);
    struct mqtt *mqtt = house_start(&settings, &inbox);
    for (size_t i = 0; i < sizeof(order) / sizeof(order[0]); i++) {
        child_wait(tree, order[i], line);
        ck_assert_msg(i == 3 || !strstr(line, "ready"), "ready before %s", order[i]);
    }
    house_stop(mqtt, inbox);
}
END_TEST

/* Which of two values that change together goes first is not promised: with the window
 * full, as it can be just after the introduction, they go in the order of their rows. */
START_TEST(test_changed_value_is_told_once_and_an_unchanged_one_not_at_all)
{
    static const char power[] = "0 homie/5/sluice/water-heater/power 3600";
    static const char on[] = "0 homie/5/sluice/water-heater/on true";
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    mqtt_value(mqtt, POWER, "0");
    mqtt_value(mqtt, POWER, "3600");
    mqtt_value(mqtt, POWER, "3600");
    mqtt_value(mqtt, ON, "true");
    bool power_first = strcmp(child_line(tree, line), power) == 0;
    ck_assert_str_eq(line, power_first ? power : on);
    ck_assert_str_eq(child_line(tree, line), power_first ? on : power);
    mqtt_value(mqtt, ENERGY, "3.251");
    ck_assert_str_eq(child_line(tree, line), "0 homie/5/sluice/water-heater/energy 3.251");
    house_stop(mqtt, inbox);
}
END_TEST

/* "either be used for every value update ... or never" */
START_TEST(test_target_goes_before_each_value_that_can_be_set)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    mqtt_value(mqtt, MODE, "off");
    ck_assert_str_eq(child_line(tree, line), "0 homie/5/sluice/water-heater/mode/$target off");
    ck_assert_str_eq(child_line(tree, line), "0 homie/5/sluice/water-heater/mode off");
    house_stop(mqtt, inbox);
}
END_TEST

/* "an empty string value is ... a single byte of value 0"; no length would remove it */
START_TEST(test_empty_text_is_one_zero_byte_and_an_unknown_number_is_removed)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    mqtt_value(mqtt, REASON, "");
    child_wait(tree, "water-heater/reason ", line);
    ck_assert_str_eq(line, "0 homie/5/sluice/water-heater/reason "); /* up to the zero byte */
    mqtt_value(mqtt, GRID_POWER, "");
    child_wait(tree, "site/grid-power ", line);
    struct seen seen = see_all();
    ck_assert_ptr_nonnull(at(&seen, "water-heater/reason"));
    ck_assert_ptr_null(at(&seen, "site/grid-power"));
    cJSON_Delete(seen.topics);
    house_stop(mqtt, inbox);
}
END_TEST

START_TEST(test_alert_stands_until_it_is_solved)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    char payload[RIG_LINE_MAX];
    mqtt_alert(mqtt, "meter grid", "grid meter silent since 10:02");
    child_wait(tree, "$alert/", line);
    ck_assert_str_eq(line, "0 homie/5/sluice/$alert/meter-grid grid meter silent since 10:02");
    mqtt_alert(mqtt, "meter grid", NULL);
    child_wait(tree, "$alert/meter-grid ", line);
    retained_at(&broker, "homie/5/sluice/$alert/meter-grid", payload);
    ck_assert_str_eq(payload, "");
    house_stop(mqtt, inbox);
}
END_TEST

START_TEST(test_house_that_leaves_says_so)
{
    struct mailbox *inbox;
    char payload[RIG_LINE_MAX];
    struct mqtt *mqtt = ready_house(&inbox);
    house_stop(mqtt, inbox);
    child_wait(tree, "$state disconnected", line);
    ck_assert_str_eq(retained_at(&broker, "homie/5/sluice/$state", payload), "disconnected");
}
END_TEST

START_TEST(test_house_that_is_killed_is_lost)
{
    struct mqtt_settings settings = rig_settings(&broker);
    pid_t pid = fork();
    if (pid == 0) {
        struct mailbox *inbox;
        prctl(PR_SET_PDEATHSIG, SIGKILL);
        house_start(&settings, &inbox);
        for (;;)
            pause();
    }
    child_wait(tree, "$state ready", line);
    kill(pid, SIGKILL);
    waitpid(pid, NULL, 0);
    child_wait(tree, "$state lost", line);
}
END_TEST

/* ---- a description that changes --------------------------------------------------------- */

START_TEST(test_reload_removes_what_is_gone_and_keeps_what_stays)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    double before = version_now();
    ck_assert(mqtt_describe(mqtt, "Wattle house", house, MODE)); /* without the last ones */
    child_wait(tree, "$state init", line);
    child_wait(tree, "$description", line);
    child_wait(tree, "$state ready", line);
    child_wait(tree, "water-heater/deadline ", line); /* the last that is removed */
    struct seen seen = see_all();
    ck_assert_str_eq(at(&seen, "water-heater/boost"), "0");
    ck_assert_int_eq(check_tree(&seen), MODE);
    ck_assert_double_eq(version_now(), before + 1);
    house_stop(mqtt, inbox);
}
END_TEST

START_TEST(test_reload_of_the_same_house_says_nothing)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    ck_assert(mqtt_describe(mqtt, "Wattle house", house, HOUSE_COUNT));
    mqtt_value(mqtt, POWER, "17");
    ck_assert_str_eq(child_line(tree, line), "0 homie/5/sluice/water-heater/power 17");
    house_stop(mqtt, inbox);
}
END_TEST

/* A run that ended without a good-bye: its description and its memory say what it left. */
static void leave_an_earlier_run(void)
{
    broker_publish(&broker, "-t 'homie/5/sluice/$description' -r -m '{\"homie\":\"5.0\","
                            "\"version\":7,\"nodes\":{\"old-load\":{\"properties\":{"
                            "\"on\":{\"datatype\":\"boolean\"},\"mode\":{\"datatype\":"
                            "\"string\",\"settable\":true}}},\"site\":{\"properties\":{"
                            "\"grid-power\":{\"datatype\":\"integer\"}}}}}'");
    broker_publish(&broker, "-t homie/5/sluice/old-load/on -m true -r");
    broker_publish(&broker, "-t homie/5/sluice/old-load/mode -m on -r");
    broker_publish(&broker, "-t 'homie/5/sluice/old-load/mode/$target' -m on -r");
    broker_publish(&broker, "-t homie/5/sluice/site/grid-power -m -1 -r");
    broker_publish(&broker, "-t 'homie/5/sluice/$alert/long-ago' -m 'it hurt' -r");
    broker_publish(&broker, "-t homie/5/other-house/on/on -m true -r");
    rig_write(broker.folder, "memory", "alert long-ago\nalert ../x\nnonsense\n");
}

START_TEST(test_load_of_an_earlier_run_is_cleared_away)
{
    struct mailbox *inbox = mailbox_new(8, sizeof(struct mqtt_message));
    struct mqtt_settings settings = rig_settings(&broker);
    struct trouble trouble;
    char memory[128];
    leave_an_earlier_run();
    snprintf(memory, sizeof(memory), "%s/memory", broker.folder);
    struct mqtt *mqtt =
        mqtt_start(&settings, "Wattle house", house, HOUSE_COUNT, memory, inbox, &trouble);
    house_values(mqtt);
    mqtt_value(mqtt, GRID_POWER, ""); /* not known now */
    child_wait(tree, "homie/5/sluice/$state ready", line);
    struct seen seen = {cJSON_CreateObject()};
    retained(&broker, "homie/5/sluice/#", see, &seen);
    ck_assert_ptr_null(at(&seen, "site/grid-power"));
    mqtt_value(mqtt, GRID_POWER, "-1200");
    child_wait(tree, "site/grid-power -1200", line);
    cJSON_AddStringToObject(seen.topics, "site/grid-power", "-1200");
    ck_assert_int_eq(check_tree(&seen), HOUSE_COUNT);
    ck_assert_double_eq(version_now(), 8);
    ck_assert_str_eq(retained_at(&broker, "homie/5/other-house/on/on", line), "true");
    house_stop(mqtt, inbox);
}
END_TEST

/* Whoever may write below the root cannot make us read it. */
START_TEST(test_only_what_is_ours_is_subscribed_to)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    broker_publish(&broker, "-t homie/5/sluice/water-heater/stranger/set -m on");
    broker_publish(&broker, "-t homie/5/sluice/water-heater/power/set -m 5");
    broker_publish(&broker, "-t homie/5/sluice/x -m y -r");
    broker_publish(&broker, "-t homie/5/sluice/water-heater/mode/set -m on");
    /* None of them has come: nothing was refused before. */
    while (!strstr(child_line(tree, line), "mode/$target on"))
        ck_assert_ptr_null(strstr(line, "-refused"));
    house_stop(mqtt, inbox);
}
END_TEST

static void run_once(void)
{
    struct mailbox *inbox;
    struct mqtt *mqtt = ready_house(&inbox);
    house_stop(mqtt, inbox);
}

/* "version ... must be increased when the description changes": across restarts too */
START_TEST(test_version_rises_across_runs_only_when_the_house_has_changed)
{
    struct mailbox *inbox;
    struct mqtt_settings settings = rig_settings(&broker);
    struct trouble trouble;
    run_once();
    double first = version_now();
    run_once();
    ck_assert_double_eq(version_now(), first);
    inbox = mailbox_new(8, sizeof(struct mqtt_message));
    struct mqtt *mqtt = mqtt_start(&settings, "Another house", house, MODE, "", inbox, &trouble);
    child_wait(tree, "$state ready", line);
    ck_assert_double_eq(version_now(), first + 1);
    house_stop(mqtt, inbox);
}
END_TEST

/* ---- what cannot be described --------------------------------------------------------------- */

START_TEST(test_ids_that_homie_does_not_allow_are_refused_by_name)
{
    static const char *const bad[] = {"Water", "water_heater", "a b", "", "w\xc3\xa4rme",
                                      "$on",   "a/b",          "a+",  "#"};
    struct mqtt_settings settings = rig_settings(&broker);
    struct mailbox *inbox = mailbox_new(1, sizeof(struct mqtt_message));
    struct trouble trouble;
    for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++) {
        struct mqtt_property property = house[ON];
        snprintf(property.id, sizeof(property.id), "%s", bad[i]);
        ck_assert_ptr_null(mqtt_start(&settings, "House", &property, 1, "", inbox, &trouble));
        ck_assert_ptr_nonnull(strstr(trouble.text, "a-z"));
    }
    struct mqtt_property twice[] = {house[ON], house[ON]};
    ck_assert_ptr_null(mqtt_start(&settings, "House", twice, 2, "", inbox, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "water-heater/on"));
    snprintf(settings.device, sizeof(settings.device), "my/house");
    ck_assert_ptr_null(mqtt_start(&settings, "House", house, 1, "", inbox, &trouble));
    mailbox_free(inbox);
}
END_TEST

START_TEST(test_broker_is_not_needed_to_start_and_to_stop)
{
    struct mailbox *inbox;
    struct mqtt_settings settings = rig_settings(&broker);
    settings.port = rig_free_port();
    struct mqtt *mqtt = house_start(&settings, &inbox);
    ck_assert(!mqtt_connected(mqtt));
    ck_assert(!mqtt_send(mqtt, "relay/set", "on"));
    house_stop(mqtt, inbox);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("homie");
    TCase *cases = tcase_create("homie");
    tcase_set_timeout(cases, 120);
    tcase_add_checked_fixture(cases, begin, end);
    tcase_add_test(cases,
                   test_everything_retained_is_described_and_everything_described_is_retained);
    tcase_add_test(cases, test_house_introduces_itself_before_it_is_ready);
    tcase_add_test(cases, test_changed_value_is_told_once_and_an_unchanged_one_not_at_all);
    tcase_add_test(cases, test_target_goes_before_each_value_that_can_be_set);
    tcase_add_test(cases, test_empty_text_is_one_zero_byte_and_an_unknown_number_is_removed);
    tcase_add_test(cases, test_alert_stands_until_it_is_solved);
    tcase_add_test(cases, test_house_that_leaves_says_so);
    tcase_add_test(cases, test_house_that_is_killed_is_lost);
    tcase_add_test(cases, test_reload_removes_what_is_gone_and_keeps_what_stays);
    tcase_add_test(cases, test_reload_of_the_same_house_says_nothing);
    tcase_add_test(cases, test_load_of_an_earlier_run_is_cleared_away);
    tcase_add_test(cases, test_only_what_is_ours_is_subscribed_to);
    tcase_add_test(cases, test_version_rises_across_runs_only_when_the_house_has_changed);
    tcase_add_test(cases, test_ids_that_homie_does_not_allow_are_refused_by_name);
    tcase_add_test(cases, test_broker_is_not_needed_to_start_and_to_stop);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
