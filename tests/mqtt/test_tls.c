/* test_tls.c - whom we talk to, and who we are: authorities and certificates made by
 * openssl for each test.
 *
 * RFC 6125: a certificate is for the name or address that was asked for. */
#include <check.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "house.h"

static struct broker broker;
static struct mailbox *inbox;
static struct mqtt *mqtt;

static void make_authority(const char *name)
{
    rig_shell("cd %s && openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes "
              "-days 2 -subj '/CN=%s authority' -keyout %s-ca.key -out %s-ca.pem 2>/dev/null",
              broker.folder, name, name, name);
}

static void make_certificate(const char *authority, const char *name, const char *also)
{
    rig_shell("cd %s && openssl req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes "
              "-subj '/CN=%s' -keyout %s.key -out %s.csr 2>/dev/null && "
              "printf 'subjectAltName=%s' > %s.ext && "
              "openssl x509 -req -days 2 -in %s.csr -CA %s-ca.pem -CAkey %s-ca.key "
              "-CAcreateserial -extfile %s.ext -out %s.pem 2>/dev/null && chmod 644 *.key",
              broker.folder, name, name, name, also, name, name, authority, authority, name, name);
}

static void serve(const char *certificate, const char *more)
{
    char config[1024];
    snprintf(config, sizeof(config),
             "listener %d 127.0.0.1\nallow_anonymous true\ncafile %s/our-ca.pem\n"
             "certfile %s/%s.pem\nkeyfile %s/%s.key\n%s",
             broker.port, broker.folder, broker.folder, certificate, broker.folder, certificate,
             more);
    rig_write(broker.folder, "mosquitto.conf", config);
    broker = broker_start_at(broker.port, broker.folder);
}

static void begin(void)
{
    broker = broker_start("");
    broker_kill(&broker);
    make_authority("our");
    make_authority("other");
    make_certificate("our", "broker", "IP:127.0.0.1");
    make_certificate("our", "elsewhere", "DNS:elsewhere.home.arpa");
    make_certificate("our", "house", "DNS:house.home.arpa");
}

static void end(void)
{
    if (mqtt)
        house_stop(mqtt, inbox);
    broker_clean(&broker);
}

static struct mqtt_settings with_tls(const char *authority)
{
    struct mqtt_settings settings = rig_settings(&broker);
    settings.tls = true;
    snprintf(settings.ca_file, sizeof(settings.ca_file), "%s/%s-ca.pem", broker.folder, authority);
    return settings;
}

static void start(const struct mqtt_settings *settings)
{
    mqtt = house_start(settings, &inbox);
}

static void expect_refused(void)
{
    rig_expect_trouble(mqtt, "certificate verify failed");
    ck_assert(!mqtt_connected(mqtt));
}

START_TEST(test_broker_of_our_authority_is_trusted)
{
    struct mqtt_settings settings = with_tls("our");
    serve("broker", "");
    start(&settings);
    rig_until_connected(mqtt);
}
END_TEST

START_TEST(test_broker_of_another_authority_is_not)
{
    struct mqtt_settings settings = with_tls("other");
    serve("broker", "");
    start(&settings);
    expect_refused();
}
END_TEST

START_TEST(test_broker_whose_certificate_nobody_signed_is_not)
{
    struct mqtt_settings settings = with_tls("our");
    settings.ca_file[0] = '\0'; /* the system's authorities */
    serve("broker", "");
    start(&settings);
    expect_refused();
}
END_TEST

START_TEST(test_certificate_for_another_host_is_not_taken)
{
    struct mqtt_settings settings = with_tls("our");
    serve("elsewhere", "");
    start(&settings);
    rig_expect_trouble(mqtt, "host name verification failed");
    ck_assert(!mqtt_connected(mqtt));
}
END_TEST

START_TEST(test_house_shows_its_certificate_where_the_broker_wants_one)
{
    struct mqtt_settings settings = with_tls("our");
    serve("broker", "require_certificate true\nuse_identity_as_username true\n");
    snprintf(settings.certificate_file, sizeof(settings.certificate_file), "%s/house.pem",
             broker.folder);
    snprintf(settings.key_file, sizeof(settings.key_file), "%s/house.key", broker.folder);
    start(&settings);
    rig_until_connected(mqtt);
}
END_TEST

START_TEST(test_house_without_a_certificate_is_told_that_it_needs_one)
{
    struct mqtt_settings settings = with_tls("our");
    serve("broker", "require_certificate true\n");
    start(&settings);
    rig_expect_trouble(mqtt, "certificate required");
    ck_assert(!mqtt_connected(mqtt));
}
END_TEST

START_TEST(test_files_that_are_not_there_are_named)
{
    struct mqtt_settings settings = with_tls("our");
    serve("broker", "");
    snprintf(settings.key_file, sizeof(settings.key_file), "%s/house.key", broker.folder);
    start(&settings);
    rig_expect_trouble(mqtt, "certificate and its key belong together");
    house_stop(mqtt, inbox);
    settings = with_tls("no");
    start(&settings);
    rig_expect_trouble(mqtt, "/no-ca.pem: No such file");
    house_stop(mqtt, inbox);
    settings = with_tls("our");
    rig_write(broker.folder, "our-ca.pem", "this is no certificate\n");
    start(&settings);
    rig_expect_trouble(mqtt, "CA");
    ck_assert(!mqtt_connected(mqtt));
}
END_TEST

/* The plain port's answer to a TLS greeting is to hang up, and the other way round. */
START_TEST(test_plain_house_at_a_tls_port_is_told_something)
{
    struct mqtt_settings settings = rig_settings(&broker);
    serve("broker", "");
    start(&settings);
    rig_expect_trouble(mqtt, "closes the connection without an answer");
}
END_TEST

START_TEST(test_broker_with_tls_that_restarts_is_found_again)
{
    struct mqtt_settings settings = with_tls("our");
    serve("broker", "");
    start(&settings);
    rig_until_connected(mqtt);
    broker_kill(&broker);
    rig_expect_trouble(mqtt, "127.0.0.1:");
    serve("broker", "");
    rig_until_connected(mqtt);
    rig_expect_trouble(mqtt, "");
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("tls");
    TCase *cases = tcase_create("tls");
    tcase_set_timeout(cases, 120);
    tcase_add_checked_fixture(cases, begin, end);
    tcase_add_test(cases, test_broker_of_our_authority_is_trusted);
    tcase_add_test(cases, test_broker_of_another_authority_is_not);
    tcase_add_test(cases, test_broker_whose_certificate_nobody_signed_is_not);
    tcase_add_test(cases, test_certificate_for_another_host_is_not_taken);
    tcase_add_test(cases, test_house_shows_its_certificate_where_the_broker_wants_one);
    tcase_add_test(cases, test_house_without_a_certificate_is_told_that_it_needs_one);
    tcase_add_test(cases, test_files_that_are_not_there_are_named);
    tcase_add_test(cases, test_plain_house_at_a_tls_port_is_told_something);
    tcase_add_test(cases, test_broker_with_tls_that_restarts_is_found_again);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
