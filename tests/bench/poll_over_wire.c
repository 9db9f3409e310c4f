/* poll_over_wire.c - how near polling comes to what the wire itself allows.
 *
 * The peer is a meter on a pty that paces its bytes as a UART would: a question takes
 * its characters on the wire, then the meter thinks, then each byte of the answer comes
 * at its own time. The limit is bytes x character time (11 bits) + the gaps of Serial
 * Line V1.02, 2.5.1.1 + the meter's own answer time; a poll reads the blocks of a
 * three-phase float meter's map through the bus's worker. */
#include <pthread.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "bus/bus.h"
#include "frame/frame.h"

enum { ANSWER_US = 5000, QUESTION_BYTES = 8, POLLS = 40, SKIPPED = 3 };

struct meter {
    int fd;
    int64_t character_us_1000; /* thousandths */
    uint64_t wire_us_1000;     /* what the exchanges of this meter need on the wire */
    int64_t gap_us;
};

static int64_t clock_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static void sleep_until(int64_t us)
{
    struct timespec t = {.tv_sec = us / 1000000, .tv_nsec = (long)(us % 1000000) * 1000};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL);
}

static size_t answer(const uint8_t question[], uint8_t frame[static FRAME_RTU_MAX])
{
    static const uint8_t volts[] = {0x43, 0x66, 0x33, 0x33}; /* 230.2 */
    uint8_t pdu[FRAME_PDU_MAX] = {question[1], (uint8_t)(2 * question[5])};
    for (size_t i = 0; i < pdu[1]; i++)
        pdu[2 + i] = volts[i % sizeof volts];
    return frame_rtu_build(frame, question[0], pdu, 2u + pdu[1]);
}

static void *serve(void *argument)
{
    struct meter *meter = argument;
    uint8_t question[QUESTION_BYTES], frame[FRAME_RTU_MAX];
    for (size_t have = 0;;) {
        ssize_t count = read(meter->fd, question + have, sizeof question - have);
        if (count <= 0)
            return NULL;
        have += (size_t)count;
        if (have < sizeof question)
            continue;
        have = 0;
        int64_t begun_us = clock_us();
        size_t length = answer(question, frame);
        for (size_t i = 0; i < length; i++) {
            int64_t characters = QUESTION_BYTES + (int64_t)i + 1;
            sleep_until(begun_us + ANSWER_US + characters * meter->character_us_1000 / 1000);
            if (write(meter->fd, frame + i, 1) != 1)
                return NULL;
        }
        meter->wire_us_1000 +=
            (uint64_t)((int64_t)(QUESTION_BYTES + length) * meter->character_us_1000 +
                       (ANSWER_US + meter->gap_us) * 1000);
    }
}

static const struct meter_map *map(void)
{
    static struct meter_map map = {.name = "float", .unit = 1};
    static const uint16_t addresses[] = {0x00, 0x02, 0x04, 0x06, 0x08, 0x0a,
                                         0x0c, 0x0e, 0x10, 0x34, 0x46};
    static const enum meter_quantity quantities[] = {
        METER_VOLTAGE_L1, METER_VOLTAGE_L2, METER_VOLTAGE_L3, METER_CURRENT_L1,
        METER_CURRENT_L2, METER_CURRENT_L3, METER_POWER_L1,   METER_POWER_L2,
        METER_POWER_L3,   METER_POWER,      METER_FREQUENCY};
    map.point_count = sizeof addresses / sizeof addresses[0];
    for (uint8_t i = 0; i < map.point_count; i++)
        map.point[i] = (struct meter_point){.quantity = quantities[i],
                                            .table = METER_INPUT,
                                            .address = addresses[i],
                                            .type = METER_FLOAT32,
                                            .scale_num = 1000,
                                            .scale_den = 1,
                                            .scale_register = METER_NO_REGISTER};
    return &map;
}

static void poll_once(struct bus *bus, struct mailbox *answers, uint8_t meter)
{
    struct bus_answer heard;
    const struct bus_job job = {.kind = BUS_READ_METER, .meter = meter, .now = {clock_us() / 1000}};
    if (!bus_post(bus, &job))
        exit(EXIT_FAILURE);
    mailbox_wait(answers);
    mailbox_take(answers, &heard);
    if (heard.outcome != BUS_OK) {
        fprintf(stderr, "%s: %s\n", bus_outcome_text(heard.outcome), heard.detail);
        exit(EXIT_FAILURE);
    }
}

static void measure(int32_t baud)
{
    int ours, theirs;
    struct termios raw;
    struct trouble trouble;
    pthread_t thread;
    struct bus_settings settings = {
        .name = "wire", .baud = baud, .stop_bits = 1, .answer_ms = 1000};
    if (openpty(&ours, &theirs, settings.port, NULL, NULL) != 0)
        exit(EXIT_FAILURE);
    tcgetattr(theirs, &raw);
    cfmakeraw(&raw);
    tcsetattr(theirs, TCSANOW, &raw);
    struct meter meter = {.fd = ours,
                          .character_us_1000 = INT64_C(11000000000) / baud,
                          .gap_us = baud > 19200 ? 1750 : 38500000 / baud};
    struct mailbox *answers = mailbox_new(8, sizeof(struct bus_answer));
    struct bus *bus = bus_new(&settings, answers, &trouble);
    if (!bus || pthread_create(&thread, NULL, serve, &meter) != 0)
        exit(EXIT_FAILURE);
    uint8_t number = bus_add_meter(bus, 1, map(), SUNSPEC_EITHER);
    for (int i = 0; i < SKIPPED; i++)
        poll_once(bus, answers, number);
    uint64_t before = meter.wire_us_1000;
    int64_t begun_us = clock_us();
    for (int i = 0; i < POLLS; i++)
        poll_once(bus, answers, number);
    int64_t took_us = clock_us() - begun_us;
    bus_free(bus);
    close(theirs); /* the last user of the port: the peer's reading ends */
    pthread_join(thread, NULL);
    double limit_us = (double)(meter.wire_us_1000 - before) / 1000;
    printf("figure poll_over_wire_%d %.3f x (%.1f ms a poll, the wire alone %.1f ms)\n", (int)baud,
           (double)took_us / limit_us, (double)took_us / 1000 / POLLS, limit_us / 1000 / POLLS);
    mailbox_free(answers);
    close(ours);
}

int main(void)
{
    measure(9600);
    measure(115200);
    return EXIT_SUCCESS;
}
