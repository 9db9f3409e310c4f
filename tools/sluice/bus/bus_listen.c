/* bus_listen.c - `sluice bus listen PORT`: who asks what of whom, as it happens.
 *
 * The port is opened for reading alone. Where the line is not told, likely ones are
 * tried until frames are whole. Which map a unit speaks is found by what it answers:
 * voltages and a frequency that a mains can have, at the addresses where the map says.
 * At the end it is told what was asked how often, what of the map nobody asks for, and
 * the sections that a settings file needs. */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "bus.h"
#include "bus/guess.h"
#include "bus/overheard.h"
#include "bus/port.h"
#include "bus/serial_port.h"
#include "frame/listen.h"
#include "loop/clock.h"
#include "map_shelf.h"
#include "sluice/options.h"

enum {
    ROWS_MAX = 128,
    UNITS_MAX = 16,
    GUESS_US = 3000000,
    SHOWN_REGISTERS = 6,
    SURE_SCORE = 3,
};

struct row {
    uint8_t unit, function;
    uint16_t address, quantity;
    unsigned asked, answered;
};

struct heard_unit {
    uint8_t unit;
    int *score;                  /* of each map of the shelf */
    const struct meter_map *map; /* the one that fits, or is told; NULL: none yet */
    struct overheard overheard;
};

struct session {
    struct bus_settings line;
    bool line_told;
    int64_t only_unit, exchanges, for_ms; /* 0: not told */
    const char *map_name;
    struct map_shelf shelf;
    int fd, signals;
    bool ended;
    bool showing;
    int64_t end_us; /* 0: no end is told */
    int64_t begun_us;
    uint64_t bytes; /* on all lines that were tried */
    unsigned heard;
    struct row row[ROWS_MAX];
    unsigned row_count;
    struct heard_unit unit[UNITS_MAX];
    unsigned unit_count;
    struct listener listener;
};

/* ---- which map a unit speaks ------------------------------------------------------------ */

static struct heard_unit *unit_of(struct session *session, uint8_t number)
{
    for (unsigned i = 0; i < session->unit_count; i++)
        if (session->unit[i].unit == number)
            return &session->unit[i];
    if (session->unit_count == UNITS_MAX)
        return NULL;
    struct heard_unit *unit = &session->unit[session->unit_count++];
    *unit =
        (struct heard_unit){.unit = number, .score = calloc(session->shelf.count + 1, sizeof(int))};
    return unit;
}

/* Volts and hertz tell: other quantities may be anything. A wrong map shows them where
 * something else stands. */
static int score_of(const struct meter_sample *sample)
{
    enum { LEAST_MV = 85000, GREATEST_MV = 290000, LEAST_MHZ = 45000, GREATEST_MHZ = 65000 };
    int score = 0;
    for (int q = METER_VOLTAGE_L1; q <= METER_FREQUENCY; q++) {
        int64_t value = sample->value[q];
        bool hertz = q == METER_FREQUENCY;
        if (!(sample->has & 1u << q) || value == 0)
            continue;
        bool fits = hertz ? value >= LEAST_MHZ && value <= GREATEST_MHZ
                          : value >= LEAST_MV && value <= GREATEST_MV;
        score += fits ? (hertz ? 2 : 1) : -5;
    }
    return score;
}

static void settle_map(struct heard_unit *unit, const struct meter_map *map)
{
    unit->map = map;
    overheard_begin(&unit->overheard, unit->unit, map);
}

/* A map that is told may be the wrong one: only a point that was read shows it. */
static bool speaks(const struct heard_unit *unit)
{
    return unit->map && unit->overheard.heard != 0;
}

static void weigh_maps(struct session *session, struct heard_unit *unit,
                       const struct meter_block *block, const uint16_t value[])
{
    size_t best = 0;
    for (size_t i = 0; unit->score && i < session->shelf.count; i++) {
        struct meter_sample sample = {0};
        meter_decode(&session->shelf.map[i], block, value, &sample);
        unit->score[i] += score_of(&sample);
        best = unit->score[i] > unit->score[best] ? i : best;
    }
    if (!unit->map && unit->score && session->shelf.count && unit->score[best] >= SURE_SCORE)
        settle_map(unit, &session->shelf.map[best]);
}

/* ---- one line for each exchange ------------------------------------------------------------- */

static void write_decoded(const struct meter_map *map, const struct meter_block *block,
                          const uint16_t value[], struct text *text)
{
    struct meter_sample sample = {0};
    meter_decode(map, block, value, &sample);
    for (int q = 0; q < METER_QUANTITIES; q++)
        if (sample.has & 1u << q) {
            text_add(text, " %s ", meter_quantity_word((enum meter_quantity)q));
            meter_value_write((enum meter_quantity)q, sample.value[q], text);
        }
}

static void write_registers(const struct meter_block *block, const uint16_t value[],
                            struct text *text)
{
    for (uint16_t i = 0; i < block->count && i < SHOWN_REGISTERS; i++)
        text_add(text, " %04x", value[i]);
    if (block->count > SHOWN_REGISTERS)
        text_add(text, " ...");
}

static void write_question(const struct heard *heard, struct text *text)
{
    static const char *const functions[] = {
        [READ_COILS] = "coils",        [READ_DISCRETE] = "discrete inputs",
        [READ_HOLDING] = "holding",    [READ_INPUT] = "input",
        [WRITE_COIL] = "write coil",   [WRITE_REGISTER] = "write register",
        [WRITE_COILS] = "write coils", [WRITE_REGISTERS] = "write registers"};
    uint8_t function = heard->request[0];
    bool known = function < sizeof functions / sizeof functions[0] && functions[function];
    text_add(text, "unit %u ", heard->unit);
    if (!known || heard->request_length < 5) {
        text_add(text, "function %u", function);
        return;
    }
    text_add(text, "%s 0x%04x", functions[function], word_at(heard->request + 1));
    if (function != WRITE_COIL && function != WRITE_REGISTER)
        text_add(text, " x %u", word_at(heard->request + 3));
}

static void take_registers(struct session *session, const struct heard *heard,
                           const struct meter_block *block, const uint16_t value[],
                           struct text *text)
{
    struct heard_unit *unit = unit_of(session, heard->unit);
    if (!unit)
        return;
    if (!unit->map)
        weigh_maps(session, unit, block, value);
    size_t before = text->used;
    if (unit->map) {
        bool spoke = speaks(unit);
        overheard_take(&unit->overheard, block, value, heard->answered_us);
        if (!spoke && speaks(unit))
            printf("unit %u matches the map %s\n", unit->unit, unit->map->name);
        write_decoded(unit->map, block, value, text);
    }
    if (text->used == before)
        write_registers(block, value, text);
}

static void count_question(struct session *session, const struct heard *heard)
{
    struct row row = {.unit = heard->unit, .function = heard->request[0]};
    if (heard->request_length >= 5) {
        row.address = word_at(heard->request + 1);
        row.quantity = word_at(heard->request + 3);
    }
    unsigned i = 0;
    while (i < session->row_count &&
           (session->row[i].unit != row.unit || session->row[i].function != row.function ||
            session->row[i].address != row.address || session->row[i].quantity != row.quantity))
        i++;
    if (i == ROWS_MAX)
        return;
    if (i == session->row_count)
        session->row[session->row_count++] = row;
    session->row[i].asked++;
    session->row[i].answered += heard->kind == HEARD_ANSWERED;
}

static void take(void *context, const struct heard *heard)
{
    static const char *const kinds[] = {[HEARD_ANSWERED] = "",
                                        [HEARD_REFUSED] = " refused",
                                        [HEARD_UNANSWERED] = " no answer",
                                        [HEARD_GARBLED] = " garbled answer",
                                        [HEARD_DOUBTFUL] = " doubtful: may answer another question",
                                        [HEARD_STRAY] = " answers without a question",
                                        [HEARD_BROADCAST] = " broadcast"};
    char buffer[512];
    struct text text = text_in(buffer, sizeof buffer);
    struct session *session = context;
    struct meter_block block;
    uint16_t value[METER_BLOCK_REGISTERS_MAX];
    if (!session->showing || session->ended ||
        (session->only_unit && heard->unit != session->only_unit))
        return;
    if (heard->request) {
        count_question(session, heard);
        write_question(heard, &text);
    } else {
        text_add(&text, "unit %u", heard->unit);
    }
    text_add(&text, "%s", kinds[heard->kind]);
    if (heard->kind == HEARD_REFUSED)
        text_add(&text, ": exception %u", heard->answer[1]);
    else if (overheard_registers(heard, &block, value)) {
        text_add(&text, ":");
        take_registers(session, heard, &block, value, &text);
    }
    int64_t ms = (clock_monotonic_us() - session->begun_us) / 1000;
    printf("%6d.%03d %s\n", (int)(ms / 1000), (int)(ms % 1000), buffer);
    session->heard++;
    session->ended |= session->exchanges && session->heard >= session->exchanges;
}

/* ---- hearing ------------------------------------------------------------------------------ */

/* Hears for a moment; false: the port is gone, a signal has come or the time is over. */
static bool hear(struct session *session)
{
    uint8_t bytes[1024];
    struct pollfd fds[] = {{.fd = session->fd, .events = POLLIN},
                           {.fd = session->signals, .events = POLLIN}};
    int ready = poll(fds, 2, LISTEN_QUIET_US / 1000);
    if (ready == 0)
        listen_quiet(&session->listener);
    session->ended |= ready > 0 && fds[1].revents;
    session->ended |= session->end_us && clock_monotonic_us() >= session->end_us;
    if (ready > 0 && fds[0].revents) {
        ssize_t count = read(session->fd, bytes, sizeof bytes);
        if (count <= 0 && errno != EAGAIN && errno != EINTR)
            return false;
        if (count > 0) {
            session->bytes += (uint64_t)count;
            listen_feed(&session->listener, bytes, (size_t)count, clock_monotonic_us());
        }
    }
    return !session->ended;
}

/* The end of a session in which no byte has come: whoever wired it needs to know where
 * to look. */
static enum status complain_silence(const struct session *session)
{
    return complain(STATUS_REFUSED,
                    "nothing received on %s: check that A and B are connected and not "
                    "swapped, that a master polls, and the baud rate",
                    session->line.port);
}

static enum status end_unfound(const struct session *session)
{
    if (!session->ended)
        return complain(STATUS_NOT_THERE, "%s was unplugged", session->line.port);
    if (session->bytes == 0)
        return complain_silence(session);
    return complain(STATUS_REFUSED,
                    "there is traffic on %s, but no speed and parity with whole frames was found "
                    "in time: listen longer, or give --baud",
                    session->line.port);
}

static bool open_line(struct session *session)
{
    struct trouble trouble;
    serial_close(session->fd);
    session->fd = serial_open(session->line.port, session->line.baud, session->line.parity,
                              session->line.stop_bits, SERIAL_LISTEN, "", &trouble);
    if (session->fd < 0)
        complain(STATUS_NOT_THERE, "%s", trouble.text);
    listen_begin(&session->listener, take, session);
    return session->fd >= 0;
}

/* Silence says nothing about a line: it is waited out, as long as there is time. */
static enum guess try_line(struct session *session)
{
    int64_t begun_us = 0;
    while (hear(session)) {
        const struct listen_counts *counts = &session->listener.counts;
        enum guess guess = guess_judge(counts);
        if (guess != GUESS_MORE)
            return guess;
        if (counts->bytes > 0 && begun_us == 0)
            begun_us = clock_monotonic_us();
        if (begun_us && clock_monotonic_us() - begun_us > GUESS_US)
            return GUESS_WRONG;
    }
    return GUESS_MORE;
}

static enum status find_line(struct session *session)
{
    fprintf(stderr, "sluice: listening on %s for a line with whole frames\n", session->line.port);
    for (unsigned i = 0; guess_line(i, &session->line); i++) {
        if (!open_line(session))
            return STATUS_NOT_THERE;
        enum guess guess = try_line(session);
        if (guess == GUESS_RIGHT)
            return STATUS_DONE;
        if (guess == GUESS_MORE)
            return end_unfound(session);
    }
    return complain(STATUS_REFUSED,
                    "there is traffic on %s, but no whole frame at any speed and parity: check "
                    "that A and B are not swapped, and that it is Modbus RTU",
                    session->line.port);
}

/* ---- the end ------------------------------------------------------------------------------- */

static void print_unit(struct session *session, const struct heard_unit *unit)
{
    char buffer[256];
    struct text text = text_in(buffer, sizeof buffer);
    if (!unit->map) {
        printf("\nunit %u: no known map fits its replies\n", unit->unit);
        return;
    }
    if (!speaks(unit)) {
        printf("\nunit %u: no master polls anything of the map %s\n", unit->unit, unit->map->name);
        return;
    }
    overheard_missing(&unit->overheard, &text);
    printf("\nunit %u matches %s%s%s\n", unit->unit, unit->map->name, text.used ? ": " : "",
           buffer);
    session->line.mode = BUS_LISTEN;
    print_sections(&session->line, unit->unit, unit->map->name);
}

static void print_end(struct session *session)
{
    const struct listen_counts *counts = &session->listener.counts;
    char buffer[64];
    struct text text = text_in(buffer, sizeof buffer);
    serial_line_write(session->line.baud, session->line.parity, session->line.stop_bits, &text);
    printf("\n%s: %llu frames, %llu bytes of noise, %llu doubtful answers\n", buffer,
           (unsigned long long)counts->frames, (unsigned long long)counts->noise_bytes,
           (unsigned long long)counts->kind[HEARD_DOUBTFUL]);
    if (counts->overtaken >= 3)
        printf("two masters poll on this bus and garble each other\n");
    for (unsigned i = 0; i < session->row_count; i++)
        printf("unit %u function %u 0x%04x x %u: polled %u times, answered %u\n",
               session->row[i].unit, session->row[i].function, session->row[i].address,
               session->row[i].quantity, session->row[i].asked, session->row[i].answered);
    for (unsigned i = 0; i < session->unit_count; i++)
        print_unit(session, &session->unit[i]);
}

static enum status show(struct session *session)
{
    char buffer[64];
    struct text text = text_in(buffer, sizeof buffer);
    if (!open_line(session))
        return STATUS_NOT_THERE;
    serial_line_write(session->line.baud, session->line.parity, session->line.stop_bits, &text);
    fprintf(stderr, "sluice: %s, %s\n", session->line.port, buffer);
    session->showing = true;
    session->begun_us = clock_monotonic_us();
    while (hear(session))
        ;
    session->showing = false;
    if (session->ended && session->bytes == 0)
        return complain_silence(session);
    print_end(session);
    if (!session->ended)
        return complain(STATUS_NOT_THERE, "%s was unplugged", session->line.port);
    if (session->only_unit && session->heard == 0)
        return complain(STATUS_REFUSED, "unit %d was never polled", (int)session->only_unit);
    return STATUS_DONE;
}

/* ---- the words on the command line ------------------------------------------------------------
 */

static bool take_line(struct session *session, const char *baud, const char *parity)
{
    int64_t value = 9600;
    session->line_told = baud || parity;
    if (baud && !word_read("--baud", QUANTITY_COUNT, baud, 1200, 460800, &value))
        return false;
    session->line.baud = (int32_t)value;
    session->line.stop_bits = 1;
    session->line.parity = PARITY_NONE;
    if (!parity || parity_read(parity, &session->line.parity))
        return true;
    complain(STATUS_USAGE, "--parity: \"%s\" is not none, even or odd", parity);
    return false;
}

static bool take_map(struct session *session)
{
    if (!session->map_name)
        return true;
    const struct meter_map *map = shelf_find(&session->shelf, session->map_name);
    struct heard_unit *unit =
        map ? unit_of(session, (uint8_t)(session->only_unit ? session->only_unit : map->unit))
            : NULL;
    if (unit)
        settle_map(unit, map);
    else
        complain(STATUS_USAGE, "there is no map \"%s\"", session->map_name);
    return unit != NULL;
}

static int open_signals(void)
{
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    sigprocmask(SIG_BLOCK, &signals, NULL);
    return signalfd(-1, &signals, SFD_CLOEXEC);
}

static enum status run(struct session *session)
{
    struct trouble trouble;
    session->signals = open_signals();
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (!port_check(&session->line, &trouble))
        return complain(STATUS_USAGE, "%s", trouble.text);
    if (!take_map(session))
        return STATUS_USAGE;
    if (session->for_ms)
        session->end_us = clock_monotonic_us() + session->for_ms * 1000;
    enum status status = session->line_told ? STATUS_DONE : find_line(session);
    if (status == STATUS_DONE)
        status = show(session);
    serial_close(session->fd);
    close(session->signals);
    return status;
}

enum status bus_listen(struct invocation *at, int argc, char *argv[])
{
    const char *baud = NULL, *parity = NULL, *unit = NULL, *maps = MAPS_DEFAULT, *count = NULL,
               *duration = NULL, *map = NULL;
    const struct option_row rows[] = {
        {"--baud", &baud, NULL, "a speed such as 9600"},
        {"--parity", &parity, NULL, "none, even or odd"},
        {"--unit", &unit, NULL, "a unit from 1 to 247"},
        {"--map", &map, NULL, "the name of a map"},
        {"--maps", &maps, NULL, "the folder of the meter maps"},
        {"--exchanges", &count, NULL, "after how many to end"},
        {"--for", &duration, NULL, "a time such as 30 s"},
        {0},
    };
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, "bus");
    struct session *session = calloc(1, sizeof *session);
    if (!session)
        return complain(STATUS_NOT_THERE, "out of memory");
    session->fd = -1;
    session->map_name = map;
    snprintf(session->line.port, sizeof session->line.port, "%s", argv[1]);
    bool right =
        take_line(session, baud, parity) &&
        (!unit || word_read("--unit", QUANTITY_COUNT, unit, 1, 247, &session->only_unit)) &&
        (!count ||
         word_read("--exchanges", QUANTITY_COUNT, count, 1, INT32_MAX, &session->exchanges)) &&
        (!duration ||
         word_read("--for", QUANTITY_DURATION_MS, duration, 1, MS_PER_DAY, &session->for_ms));
    shelf_read(&session->shelf, maps);
    enum status status = right ? run(session) : STATUS_USAGE;
    for (unsigned i = 0; i < session->unit_count; i++)
        free(session->unit[i].score);
    shelf_free(&session->shelf);
    free(session);
    return status;
}
