/* sniffer.c - the worker of a bus that is only listened to.
 *
 * Bytes from the port go through a listener, which says who was asked what and what
 * the answer was; reads of known meters go to their samples, and to whoever taps the
 * bus. A job for such a bus is answered at once from what has been heard. When
 * bytes came is told by the real clock, since a line knows no other; the answer says
 * how old its sample is, so that time stays the jobs'. */
#include "bus/sniffer.h"

#include <errno.h>
#include <poll.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bus/overheard.h"
#include "bus/port.h"
#include "bus/serial_port.h"
#include "frame/listen.h"
#include "loop/clock.h"

enum {
    REOPEN_US = 1000000,
    OVERTAKEN_MASTERS = 3,       /* one may be a master that was restarted */
    MISSING_AFTER_US = 60000000, /* a master may read totals once a minute */
};

struct sniffer {
    struct bus_settings settings;
    struct quality *quality;
    struct pass_tap *tap;
    int fd;        /* -1: not open */
    bool restless; /* bytes came, and it has not been quiet since */
    int64_t reopen_us, opened_us, heard_us;
    struct trouble trouble;      /* why it is not open */
    _Atomic uint8_t meter_count; /* the loop adds, while the worker hears */
    struct overheard meter[BUS_METERS_MAX];
    int64_t meter_heard_us[BUS_METERS_MAX]; /* 0: never */
    struct listener listener;
};

/* ---- what is heard ------------------------------------------------------------------- */

static void take_registers(struct sniffer *sniffer, uint8_t unit, const struct meter_block *block,
                           const uint16_t value[], int64_t now_us)
{
    uint8_t count = atomic_load(&sniffer->meter_count);
    for (uint8_t i = 0; i < count; i++)
        if (sniffer->meter[i].unit == unit) {
            sniffer->meter_heard_us[i] = now_us;
            overheard_take(&sniffer->meter[i], block, value, now_us);
        }
    pass_block(sniffer->tap, unit, block, value);
}

static void take(void *context, const struct heard *heard)
{
    static const enum bus_outcome outcomes[] = {[HEARD_ANSWERED] = BUS_OK,
                                                [HEARD_REFUSED] = BUS_EXCEPTION,
                                                [HEARD_UNANSWERED] = BUS_TIMEOUT,
                                                [HEARD_GARBLED] = BUS_CORRUPT,
                                                [HEARD_DOUBTFUL] = BUS_CORRUPT};
    struct sniffer *sniffer = context;
    struct meter_block block;
    uint16_t value[METER_BLOCK_REGISTERS_MAX];
    if (heard->kind == HEARD_STRAY || heard->kind == HEARD_BROADCAST)
        return;
    quality_count(sniffer->quality, heard->unit, outcomes[heard->kind],
                  heard->answered_us - heard->asked_us);
    if (overheard_registers(heard, &block, value))
        take_registers(sniffer, heard->unit, &block, value, heard->answered_us);
}

/* ---- the port ------------------------------------------------------------------------- */

struct sniffer *sniffer_new(const struct bus_settings *settings, struct quality *quality,
                            struct pass_tap *tap, struct trouble *trouble)
{
    if (!port_check(settings, trouble))
        return NULL;
    struct sniffer *sniffer = calloc(1, sizeof *sniffer);
    if (!sniffer) {
        trouble_set(trouble, settings->name, "no memory for a bus");
        return NULL;
    }
    sniffer->settings = *settings;
    sniffer->quality = quality;
    sniffer->tap = tap;
    sniffer->fd = -1;
    listen_begin(&sniffer->listener, take, sniffer);
    return sniffer;
}

void sniffer_free(struct sniffer *sniffer)
{
    if (!sniffer)
        return;
    serial_close(sniffer->fd);
    free(sniffer);
}

void sniffer_add_meter(struct sniffer *sniffer, uint8_t unit, const struct meter_map *map)
{
    static const struct meter_map unknown;
    uint8_t at = atomic_load(&sniffer->meter_count);
    overheard_begin(&sniffer->meter[at], unit, map ? map : &unknown);
    atomic_store(&sniffer->meter_count, (uint8_t)(at + 1));
}

static void open_port(struct sniffer *sniffer, int64_t now_us)
{
    if (sniffer->fd >= 0 || now_us < sniffer->reopen_us)
        return;
    sniffer->reopen_us = now_us + REOPEN_US;
    sniffer->fd = serial_open(sniffer->settings.port, sniffer->settings.baud,
                              sniffer->settings.parity, sniffer->settings.stop_bits, SERIAL_LISTEN,
                              sniffer->settings.name, &sniffer->trouble);
    if (sniffer->fd >= 0)
        sniffer->opened_us = now_us;
}

static void lose_port(struct sniffer *sniffer, const char *why)
{
    serial_close(sniffer->fd);
    sniffer->fd = -1;
    trouble_set(&sniffer->trouble, sniffer->settings.name, "%s: %s", sniffer->settings.port, why);
}

static void tell_line(struct sniffer *sniffer)
{
    const struct listen_counts *counts = &sniffer->listener.counts;
    quality_line(sniffer->quality, counts->noise_bytes, counts->kind[HEARD_DOUBTFUL],
                 counts->overtaken, counts->overtaken >= OVERTAKEN_MASTERS);
}

static void hear(struct sniffer *sniffer)
{
    uint8_t bytes[1024];
    ssize_t count = read(sniffer->fd, bytes, sizeof bytes);
    if (count > 0) {
        sniffer->restless = true;
        sniffer->heard_us = clock_monotonic_us();
        listen_feed(&sniffer->listener, bytes, (size_t)count, sniffer->heard_us);
        tell_line(sniffer);
    } else if (count == 0 || (errno != EAGAIN && errno != EINTR)) {
        lose_port(sniffer, count == 0 ? "it was unplugged" : strerror(errno));
    }
}

static void hear_quiet(struct sniffer *sniffer)
{
    sniffer->restless = false;
    listen_quiet(&sniffer->listener);
    tell_line(sniffer);
}

/* Until it has been quiet for long enough, whatever jobs come between. */
static int wait_ms(const struct sniffer *sniffer)
{
    int64_t left_us = sniffer->heard_us + LISTEN_QUIET_US - clock_monotonic_us();
    if (sniffer->restless)
        return left_us > 0 ? (int)(left_us / 1000) + 1 : 0;
    return sniffer->fd < 0 ? REOPEN_US / 1000 : -1;
}

void sniffer_wait(struct sniffer *sniffer, const struct mailbox *box)
{
    for (;;) {
        open_port(sniffer, clock_monotonic_us());
        struct pollfd fds[] = {{.fd = mailbox_fd(box), .events = POLLIN},
                               {.fd = sniffer->fd, .events = POLLIN}};
        int ready = poll(fds, 2, wait_ms(sniffer));
        if (ready > 0 && (fds[1].revents & POLLIN))
            hear(sniffer);
        else if (ready > 0 && fds[1].revents)
            lose_port(sniffer, "it was unplugged");
        else if (sniffer->restless && wait_ms(sniffer) == 0)
            hear_quiet(sniffer);
        if (ready > 0 && fds[0].revents)
            return;
    }
}

/* ---- answers ---------------------------------------------------------------------------- */

static void say(struct bus_answer *answer, enum bus_outcome outcome, const char *text)
{
    answer->outcome = outcome;
    snprintf(answer->detail, sizeof answer->detail, "%.*s", BUS_DETAIL_MAX - 1, text);
}

static void say_why_not(const struct sniffer *sniffer, uint8_t meter, struct bus_answer *answer)
{
    char buffer[256] = "";
    struct text text = text_in(buffer, sizeof buffer);
    int64_t since_us = sniffer->meter_heard_us[meter];
    if (sniffer->fd < 0) {
        say(answer, BUS_DOWN, sniffer->trouble.text);
        return;
    }
    if (sniffer->listener.counts.bytes == 0)
        text_add(&text, "nothing received on this bus yet");
    else if (since_us == 0 && sniffer->listener.counts.frames == 0)
        text_add(&text, "only noise received: check baud rate and parity");
    else if (since_us == 0)
        text_add(&text, "no master has polled unit %u yet", sniffer->meter[meter].unit);
    else if (!sniffer->meter[meter].heard)
        text_add(&text, "no master polls what the map has of unit %u", sniffer->meter[meter].unit);
    else
        overheard_missing(&sniffer->meter[meter], &text);
    if (!buffer[0])
        text_add(&text, "no complete set of values for %d s",
                 (int)((clock_monotonic_us() - sniffer->meter[meter].sample_us) / 1000000));
    say(answer, BUS_UNHEARD, buffer);
}

void sniffer_answer(struct sniffer *sniffer, uint8_t meter, struct bus_answer *answer)
{
    char buffer[256] = "";
    struct text text = text_in(buffer, sizeof buffer);
    int64_t taken_us;
    struct overheard *overheard = &sniffer->meter[meter];
    if (!overheard_sample(overheard, &answer->sample, &taken_us)) {
        answer->sample = (struct meter_sample){0};
        say_why_not(sniffer, meter, answer);
        return;
    }
    answer->age_ms = (clock_monotonic_us() - taken_us) / 1000;
    if (clock_monotonic_us() - sniffer->opened_us > MISSING_AFTER_US)
        overheard_missing(overheard, &text);
    say(answer, BUS_OK, buffer);
}
