/* Clients of a gateway in threads of their own, while the meter is polled and samples are
 * told: for the thread sanitizer, and for who might get another's answer. */
#include <arpa/inet.h>
#include <check.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "bus/rig.h"
#include "gateway/gateway.h"

enum { CLIENTS = 8, QUESTIONS = 40, HEADER = 7 };

static struct gateway_settings settings = {
    .enabled = true,
    .listen = "127.0.0.1",
    .age_ms = 60000,
    .wait_ms = 30000,
    .connections = CLIENTS,
    .connections_each = CLIENTS,
    .rate = 100000,
    .idle_ms = 60000,
    .served_count = 2,
    .served = {{.meter = "grid", .unit = 1, .bus_unit = RIG_UNIT},
               {.meter = "grid", .unit = 2, .view = GATEWAY_SUNSPEC, .wiring = GATEWAY_SINGLE}}};

static struct sockaddr_in loopback(int port)
{
    return (struct sockaddr_in){.sin_family = AF_INET,
                                .sin_port = htons((uint16_t)port),
                                .sin_addr = {htonl(INADDR_LOOPBACK)}};
}

static int free_port(void)
{
    struct sockaddr_in address = loopback(0);
    socklen_t size = sizeof(address);
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    ck_assert_int_eq(bind(fd, (struct sockaddr *)&address, size), 0);
    ck_assert_int_eq(getsockname(fd, (struct sockaddr *)&address, &size), 0);
    close(fd);
    return ntohs(address.sin_port);
}

/* One register of `unit`; -1: an exception or no answer. */
static int ask(int fd, uint16_t transaction, uint8_t unit, uint16_t address)
{
    const uint8_t question[HEADER + 5] = {
        (uint8_t)(transaction >> 8), (uint8_t)transaction, 0, 0, 0, 6, unit, 3,
        (uint8_t)(address >> 8),     (uint8_t)address,     0, 1};
    uint8_t answer[HEADER + 4];
    if (send(fd, question, sizeof(question), MSG_NOSIGNAL) != sizeof(question) ||
        recv(fd, answer, sizeof(answer), MSG_WAITALL) != sizeof(answer) ||
        memcmp(answer, question, 2) != 0 || answer[7] != 3)
        return -1;
    return answer[9] << 8 | answer[10];
}

struct asker {
    pthread_t thread;
    int number, wrong;
};

/* The peer's registers hold their own address: tests/peers/peer_rogue.py. */
static void *ask_on(void *argument)
{
    struct asker *asker = argument;
    struct sockaddr_in address = loopback(settings.tcp_port);
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    asker->wrong += connect(fd, (struct sockaddr *)&address, sizeof(address)) != 0;
    for (uint16_t k = 0; k < QUESTIONS; k++) {
        uint16_t place = (uint16_t)(200 + (k % 2 ? asker->number : 0) * 5 + k % 3);
        asker->wrong += ask(fd, k, 1, place) != place;
        asker->wrong += ask(fd, k, 2, 40000) != ('S' << 8 | 'u');
    }
    close(fd);
    return NULL;
}

static void poll_once(struct rig *rig, uint8_t meter, struct gateway *gateway)
{
    struct bus_answer answer =
        rig_ask(rig, (struct bus_job){.kind = BUS_READ_METER, .meter = meter, .totals = true});
    ck_assert_int_eq(answer.outcome, BUS_OK);
    gateway_sample(gateway, 0, &answer.sample, 0);
}

START_TEST(test_each_client_hears_its_own_answers_while_polls_go_on)
{
    struct trouble trouble = {.text = ""};
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, rig_map(), SUNSPEC_EITHER);
    struct asker askers[CLIENTS] = {{.number = 0}};
    struct gateway_state state;
    settings.tcp_port = free_port();
    struct gateway *gateway = gateway_new(&settings, &rig.bus, 1, "test", &trouble);
    ck_assert_msg(gateway != NULL, "%s", trouble.text);
    poll_once(&rig, meter, gateway);
    for (int k = 0; k < CLIENTS; k++) {
        askers[k].number = k;
        ck_assert_int_eq(pthread_create(&askers[k].thread, NULL, ask_on, &askers[k]), 0);
    }
    for (int k = 0; k < 30; k++) {
        poll_once(&rig, meter, gateway);
        gateway_look(gateway, &state);
    }
    for (int k = 0; k < CLIENTS; k++) {
        pthread_join(askers[k].thread, NULL);
        ck_assert_int_eq(askers[k].wrong, 0);
    }
    gateway_look(gateway, &state);
    ck_assert_uint_gt(state.passed, 0);
    ck_assert_uint_eq(state.refused, 0);
    ck_assert_str_eq(state.trouble, "");
    gateway_free(gateway);
    rig_stop(&rig);
}
END_TEST

/* The bus may still have the question of the gateway before in its hands: then this one has
 * perhaps said already that it is busy. */
static void assert_hung_up(int fd)
{
    uint8_t answer[9];
    ssize_t got = recv(fd, answer, sizeof(answer), MSG_WAITALL);
    if (got > 0) {
        ck_assert_int_eq(got, sizeof(answer));
        ck_assert_uint_eq(answer[7], 0x83);
        ck_assert_uint_eq(answer[8], 6);
        got = recv(fd, answer, 1, 0);
    }
    ck_assert_int_le(got, 0);
}

START_TEST(test_a_gateway_ends_at_once_whatever_is_under_way)
{
    struct trouble trouble = {.text = ""};
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    settings.tcp_port = free_port();
    rig_ask(&rig, rig_holding(10, 1));
    peer_order(&rig.peer, "behave silent");
    for (int k = 0; k < 10; k++) {
        struct gateway *gateway = gateway_new(&settings, &rig.bus, 1, "test", &trouble);
        struct sockaddr_in address = loopback(settings.tcp_port);
        const uint8_t question[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 9, 0, 1};
        int fd = socket(AF_INET, SOCK_STREAM, 0);
        ck_assert(gateway != NULL);
        ck_assert_int_eq(connect(fd, (struct sockaddr *)&address, sizeof(address)), 0);
        ck_assert_int_eq(send(fd, question, sizeof(question), MSG_NOSIGNAL), sizeof(question));
        gateway_free(gateway);
        assert_hung_up(fd);
        close(fd);
    }
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("threads");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 120);
    tcase_add_test(tests, test_each_client_hears_its_own_answers_while_polls_go_on);
    tcase_add_test(tests, test_a_gateway_ends_at_once_whatever_is_under_way);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
