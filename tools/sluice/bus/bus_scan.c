/* bus_scan.c - `sluice bus scan PORT`: finds the meter on a line, reading only.
 *
 * First it listens, since a second master on a bus garbles the first one's answers: what
 * is heard ends the scan, frames or not. Then lines and units are tried, the likely ones
 * first, with one short question each; any whole answer, a refusal too, is a sure hit,
 * since its CRC was made for it. The device is then asked for its fingerprint: SunSpec's
 * marker, or what the maps say. Nothing is ever written. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bus.h"
#include "bus/guess.h"
#include "bus/meter_reading.h"
#include "bus/port.h"
#include "bus/serial_port.h"
#include "frame/listen.h"
#include "loop/clock.h"
#include "map_shelf.h"
#include "meter/recognise.h"
#include "sluice/options.h"

enum {
    LISTEN_DEFAULT_MS = 30000,
    ANSWER_DEFAULT_MS = 300, /* to begin an answer: common practice, no source */
    TALK_BYTES = 8,          /* the shortest question */
    STEP_MS = 1000000,       /* between questions, by the scan's own clock: no unit backs off */
};

struct scan {
    struct bus_settings line;
    struct map_shelf shelf;
    struct quality quality;
    struct line *wire;
    struct mono now;
    uint8_t unit;
    bool other_master, echoes;
};

/* ---- listening first -------------------------------------------------------------------- */

static void ignore(void *context, const struct heard *heard)
{
    (void)context, (void)heard;
}

/* Hears until something was said or the time is over; how many bytes came, -1: the port is gone.
 * What is said at another speed comes as other bytes, but it comes. */
static int hear(const struct scan *scan, int64_t listen_ms, struct listener *listener)
{
    struct trouble trouble;
    int fd = serial_open(scan->line.port, scan->line.baud, scan->line.parity, scan->line.stop_bits,
                         SERIAL_LISTEN, "", &trouble);
    if (fd < 0) {
        complain(STATUS_NOT_THERE, "%s", trouble.text);
        return -1;
    }
    fprintf(stderr, "sluice: listening on %s for %d s before anything is sent\n", scan->line.port,
            (int)(listen_ms / 1000));
    listen_begin(listener, ignore, NULL);
    int64_t until_us = clock_monotonic_us() + listen_ms * 1000;
    for (int64_t left; (left = (until_us - clock_monotonic_us()) / 1000) > 0;) {
        uint8_t bytes[256];
        struct pollfd input = {.fd = fd, .events = POLLIN};
        ssize_t count = poll(&input, 1, (int)left) == 1 ? read(fd, bytes, sizeof bytes) : 0;
        if (count > 0)
            listen_feed(listener, bytes, (size_t)count, clock_monotonic_us());
        if (count < 0 || (input.revents & (POLLERR | POLLHUP)) ||
            listener->counts.bytes >= 64 * TALK_BYTES ||
            guess_judge(&listener->counts) == GUESS_RIGHT)
            break;
    }
    serial_close(fd);
    return (int)listener->counts.bytes;
}

static enum status say_busy(const struct scan *scan, const struct listener *listener)
{
    bool frames = guess_judge(&listener->counts) == GUESS_RIGHT;
    return complain(
        STATUS_REFUSED,
        "another master polls on %s (%llu bytes received, %llu whole frames)%s. Nothing was "
        "sent: a bus has one master. \"sluice bus listen %s\" shows what it polls; "
        "mode: listen reads along",
        scan->line.port, (unsigned long long)listener->counts.bytes,
        (unsigned long long)listener->counts.frames,
        frames ? "" : ", or it is noise: is the line terminated and biased?", scan->line.port);
}

static enum status listen_first(struct scan *scan, int64_t listen_ms)
{
    struct listener *listener = malloc(sizeof *listener);
    if (!listener)
        return complain(STATUS_NOT_THERE, "out of memory");
    int bytes = hear(scan, listen_ms, listener);
    enum status status = bytes < 0             ? STATUS_NOT_THERE
                         : bytes >= TALK_BYTES ? say_busy(scan, listener)
                                               : STATUS_DONE;
    free(listener);
    return status;
}

/* ---- asking ------------------------------------------------------------------------------- */

static bool ask(struct scan *scan, struct exchange *question)
{
    struct bus_quality quality;
    scan->now = mono_after(scan->now, STEP_MS);
    line_exchange(scan->wire, question, scan->now);
    quality_read(&scan->quality, &quality);
    scan->other_master |= quality.foreign > 0;
    scan->echoes |= strstr(question->detail, "echo") != NULL;
    return question->outcome == BUS_OK || question->outcome == BUS_EXCEPTION;
}

static bool change_line(struct scan *scan)
{
    struct trouble trouble;
    line_free(scan->wire);
    scan->wire = line_new(&scan->line, &scan->quality, &trouble);
    if (!scan->wire)
        complain(STATUS_NOT_THERE, "%s", trouble.text);
    return scan->wire != NULL;
}

/* Input register 0 and holding register 0: nearly every device has one or says no. */
static bool is_there(struct scan *scan, uint8_t unit)
{
    static const enum frame_function functions[] = {READ_INPUT, READ_HOLDING};
    for (size_t i = 0; i < 2 && !scan->other_master && !scan->echoes; i++) {
        struct exchange question = {.unit = unit, .function = functions[i], .count = 2};
        if (ask(scan, &question))
            return true;
    }
    return false;
}

static void tell_progress(const struct scan *scan, uint8_t first, uint8_t last)
{
    char buffer[64];
    struct text text = text_in(buffer, sizeof buffer);
    serial_line_write(scan->line.baud, scan->line.parity, scan->line.stop_bits, &text);
    if (first == last)
        fprintf(stderr, "sluice: %s: unit %u\n", buffer, first);
    else
        fprintf(stderr, "sluice: %s: units %u to %u of the order of likelihood\n", buffer, first,
                last);
}

static bool try_units(struct scan *scan, unsigned first, unsigned last)
{
    tell_progress(scan, (uint8_t)(first + 1), (uint8_t)last);
    for (unsigned i = first; i < last && !scan->other_master && !scan->echoes; i++) {
        scan->unit = guess_unit(i);
        if (is_there(scan, scan->unit))
            return true;
    }
    return false;
}

/* As the maps' devices leave the factory. */
static bool try_maps(struct scan *scan)
{
    for (size_t i = 0; i < scan->shelf.count && !scan->other_master && !scan->echoes; i++) {
        const struct meter_map *map = &scan->shelf.map[i];
        bool same = false; /* as one that was tried */
        for (size_t k = 0; k < i; k++)
            same |= scan->shelf.map[k].baud == map->baud &&
                    scan->shelf.map[k].parity == map->parity &&
                    scan->shelf.map[k].stop_bits == map->stop_bits &&
                    scan->shelf.map[k].unit == map->unit;
        if (same || map->baud == 0 || map->unit == 0)
            continue;
        scan->line.baud = (int32_t)map->baud;
        scan->line.parity = map->parity;
        scan->line.stop_bits = map->stop_bits ? map->stop_bits : 1;
        scan->unit = map->unit;
        tell_progress(scan, map->unit, map->unit);
        if (change_line(scan) && is_there(scan, map->unit))
            return true;
    }
    return false;
}

static bool try_lines(struct scan *scan, unsigned first, unsigned last)
{
    for (unsigned i = 0; guess_line(i, &scan->line) && !scan->other_master && !scan->echoes; i++)
        if (change_line(scan) && try_units(scan, first, last))
            return true;
    return false;
}

/* ---- which device it is ------------------------------------------------------------------------
 */

static bool is_sunspec(struct scan *scan, struct sunspec_walk *walk)
{
    sunspec_begin(walk);
    while (walk->state == SUNSPEC_ASKING) {
        struct exchange question = {.unit = scan->unit,
                                    .function = READ_HOLDING,
                                    .address = walk->address,
                                    .count = walk->count};
        if (!ask(scan, &question))
            return false;
        sunspec_feed(walk, question.outcome == BUS_OK ? question.value : NULL);
    }
    return walk->state == SUNSPEC_FOUND;
}

static void compare(struct scan *scan, const struct meter_map *map, struct recognition *recognition)
{
    static uint16_t values[RECOGNISE_READS_MAX][REQUEST_VALUES_MAX];
    struct meter_block reads[RECOGNISE_READS_MAX];
    const uint16_t *answers[RECOGNISE_READS_MAX];
    uint8_t count = meter_fingerprint_reads(map, reads);
    *recognition = (struct recognition){.verdict = RECOGNISED_NOT};
    for (uint8_t i = 0; i < count; i++) {
        struct exchange question = exchange_of_block(scan->unit, &reads[i]);
        bool answered = ask(scan, &question);
        memcpy(values[i], question.value, sizeof values[i]);
        answers[i] = answered && question.outcome == BUS_OK ? values[i] : NULL;
        meter_recognise(map, reads, answers, (uint8_t)(i + 1), recognition);
        if (recognition->verdict == RECOGNISED_NOT)
            return;
    }
}

static const struct meter_map *recognise(struct scan *scan)
{
    const struct meter_map *best = NULL;
    struct recognition recognition, best_one = {.verdict = RECOGNISED_NOT};
    for (size_t i = 0; i < scan->shelf.count; i++) {
        compare(scan, &scan->shelf.map[i], &recognition);
        if (recognition.verdict == RECOGNISED_NOT)
            continue;
        printf("# %s %s: %s\n", recognition.verdict == RECOGNISED_SURE ? "is" : "may be",
               scan->shelf.map[i].name, recognition.why);
        if (recognition.verdict > best_one.verdict ||
            (recognition.verdict == best_one.verdict && recognition.evidence > best_one.evidence)) {
            best = &scan->shelf.map[i];
            best_one = recognition;
        }
    }
    return best;
}

static enum status describe(struct scan *scan)
{
    char buffer[64];
    struct text text = text_in(buffer, sizeof buffer);
    struct sunspec_walk walk;
    serial_line_write(scan->line.baud, scan->line.parity, scan->line.stop_bits, &text);
    printf("# unit %u answers on %s, %s\n", scan->unit, scan->line.port, buffer);
    if (is_sunspec(scan, &walk)) {
        printf("# SunSpec model %u: %s %s, serial number %s\n", walk.model, walk.maker, walk.device,
               walk.serial);
        print_sections(&scan->line, scan->unit, "sunspec");
        return STATUS_DONE;
    }
    const struct meter_map *map = recognise(scan);
    if (map) {
        meter_sureness_print(map, "# ");
        print_sections(&scan->line, scan->unit, map->name);
        return STATUS_DONE;
    }
    return complain(STATUS_REFUSED,
                    "unit %u answers on %s, %s, but matches no known device: it needs a map",
                    scan->unit, scan->line.port, buffer);
}

static enum status say_nothing_found(const struct scan *scan)
{
    if (scan->other_master)
        return complain(STATUS_REFUSED,
                        "another master began to poll on %s: the scan has stopped; nothing was "
                        "written",
                        scan->line.port);
    if (scan->echoes)
        return complain(STATUS_REFUSED,
                        "the adapter at %s echoes what is sent: switch its echo off",
                        scan->line.port);
    return complain(
        STATUS_REFUSED,
        "no unit answers on %s: check the meter's power and its communication setting, A and B, "
        "and that it is Modbus RTU",
        scan->line.port);
}

static enum status run(struct scan *scan, int64_t listen_ms)
{
    struct trouble trouble;
    setvbuf(stdout, NULL, _IOLBF, 0);
    guess_line(0, &scan->line);
    if (!port_check(&scan->line, &trouble))
        return complain(STATUS_USAGE, "%s", trouble.text);
    enum status status = listen_first(scan, listen_ms);
    if (status != STATUS_DONE)
        return status;
    bool found = try_maps(scan) || try_lines(scan, 0, GUESS_LIKELY_UNITS) ||
                 try_lines(scan, GUESS_LIKELY_UNITS, 247);
    return found ? describe(scan) : say_nothing_found(scan);
}

enum status bus_scan(struct invocation *at, int argc, char *argv[])
{
    const char *maps = MAPS_DEFAULT, *listen = NULL, *answer = NULL;
    const struct option_row rows[] = {
        {"--listen", &listen, NULL, "how long to listen first, such as 30 s"},
        {"--answer", &answer, NULL, "how long a unit may take to begin its answer"},
        {"--maps", &maps, NULL, "the folder of the meter maps"},
        {0},
    };
    int64_t listen_ms = LISTEN_DEFAULT_MS, answer_ms = ANSWER_DEFAULT_MS;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, "bus");
    if ((listen &&
         !word_read("--listen", QUANTITY_DURATION_MS, listen, 100, MS_PER_HOUR, &listen_ms)) ||
        (answer && !word_read("--answer", QUANTITY_DURATION_MS, answer, 20, 10000, &answer_ms)))
        return STATUS_USAGE;
    struct scan scan = {.line = {.answer_ms = (int32_t)answer_ms}};
    snprintf(scan.line.port, sizeof scan.line.port, "%s", argv[1]);
    quality_begin(&scan.quality);
    shelf_read(&scan.shelf, maps);
    enum status status = run(&scan, listen_ms);
    line_free(scan.wire);
    shelf_free(&scan.shelf);
    quality_end(&scan.quality);
    return status;
}
