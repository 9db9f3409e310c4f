/* meter_read.c - `sluice meter read`: what a meter says now, decoded values beside the
 * registers that they were made of.
 *
 * Asked is what the daemon would ask, block by block as the plan has them, with the two
 * functions that read; nothing else is ever sent. What is answered is shown even where
 * another block is refused: a map that does not fit shows where.
 *
 * A serial port is the daemon's alone while it runs. Then the daemon is asked what it has last
 * read of the meter. */
#include <cjson/cJSON.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "bus/line.h"
#include "core/quantity.h"
#include "core/serial_line.h"
#include "loop/clock.h"
#include "map_shelf.h"
#include "meter.h"
#include "sluice/live/control.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"

enum { ANSWER_DEFAULT_MS = 1000, EVERY_DEFAULT_MS = 1000, TIMES_MOST = 1000000000, TCP_PORT = 502 };

struct wish {
    const char *map, *tcp, *serial, *unit, *every, *times, *answer, *settings, *maps;
};

struct reading_of {
    struct bus_settings bus;
    uint8_t unit;
    bool sunspec, inverted;
    enum sunspec_wanted wanted;
    struct meter_map map;
    struct meter_plan plan;
    struct quality quality;
    struct line *line;
};

/* One block's answer. */
struct heard_block {
    uint16_t value[METER_BLOCK_REGISTERS_MAX];
    enum bus_outcome outcome;
    uint8_t exception;
};

static struct mono now(void)
{
    return (struct mono){clock_monotonic_us() / 1000};
}

static void wait_until(struct mono moment)
{
    const struct timespec until = {.tv_sec = moment.ms / 1000,
                                   .tv_nsec = moment.ms % 1000 * 1000000};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL) != 0)
        continue;
}

/* ---- the command line ------------------------------------------------------------------ */

/* HOST, HOST:PORT or [HOST]:PORT. */
static bool take_tcp(const char *word, struct bus_settings *bus)
{
    bool bracket = word[0] == '[';
    const char *host = word + bracket, *end = strchr(host, bracket ? ']' : ':');
    size_t length = end ? (size_t)(end - host) : strlen(host);
    const char *port = host + length + (bracket && end ? 1 : 0);
    int64_t number = TCP_PORT;
    if (length == 0 || length >= sizeof bus->host || (bracket && !end) ||
        (*port != '\0' && *port != ':')) {
        complain(STATUS_USAGE, "--tcp: \"%s\" is not HOST:PORT, such as 192.0.2.10:502", word);
        return false;
    }
    if (*port == ':' && !meter_number("--tcp", port + 1, 1, 65535, &number))
        return false;
    memcpy(bus->host, host, length);
    bus->host[length] = '\0';
    bus->tcp_port = (int32_t)number;
    return true;
}

static bool take_parity(const char *word, struct bus_settings *bus)
{
    if (parity_read(word, &bus->parity))
        return true;
    complain(STATUS_USAGE, "--serial: \"%s\" is not a parity: none, even or odd", word);
    return false;
}

/* PORT, PORT,BAUD or PORT,BAUD,PARITY; what is left out is the map's. */
static bool take_serial(const char *word, const struct meter_map *map, struct bus_settings *bus)
{
    char copy[sizeof bus->port + 32];
    int64_t baud = map->baud;
    snprintf(copy, sizeof copy, "%s", word);
    char *comma = strchr(copy, ','), *second = comma ? strchr(comma + 1, ',') : NULL;
    if (second)
        *second++ = '\0';
    if (comma)
        *comma++ = '\0';
    if (copy[0] == '\0' || strlen(copy) >= sizeof bus->port || strlen(word) >= sizeof copy) {
        complain(STATUS_USAGE,
                 "--serial: \"%.60s\" is not PORT,BAUD,PARITY, such as "
                 "/dev/ttyUSB0,9600,none",
                 word);
        return false;
    }
    bus->parity = map->parity;
    if ((comma && !meter_number("--serial", comma, 1200, 115200, &baud)) ||
        (second && !take_parity(second, bus)))
        return false;
    memcpy(bus->port, copy, strlen(copy) + 1);
    bus->baud = (int32_t)baud;
    return true;
}

static enum status from_words(const struct wish *wish, struct reading_of *of)
{
    int64_t unit = 0;
    enum status status = STATUS_DONE;
    of->sunspec = strcmp(wish->map, "sunspec") == 0;
    of->map = (struct meter_map){.name = "sunspec", .baud = 9600, .parity = PARITY_NONE, .unit = 1};
    if (!of->sunspec)
        status = meter_map_find(wish->map, wish->maps, &of->map);
    if (status != STATUS_DONE)
        return status;
    of->bus = (struct bus_settings){.name = "meter",
                                    .stop_bits = of->map.stop_bits ? of->map.stop_bits : 1};
    unit = of->map.unit;
    if (!(wish->tcp ? take_tcp(wish->tcp, &of->bus)
                    : take_serial(wish->serial, &of->map, &of->bus)) ||
        (wish->unit &&
         !meter_number("--unit", wish->unit, wish->tcp ? 0 : 1, wish->tcp ? 255 : 247, &unit)))
        return STATUS_USAGE;
    of->unit = (uint8_t)unit;
    return STATUS_DONE;
}

static enum status take_meter(const struct settings *settings, const char *name,
                              struct reading_of *of)
{
    const char *names[SETTINGS_METERS_MAX];
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        names[k] = meter->name;
        if (strcmp(meter->name, name) != 0)
            continue;
        of->bus = settings->buses[meter->bus_index];
        of->unit = meter->unit;
        of->sunspec = meter->sunspec;
        of->inverted = meter->inverted;
        of->wanted = meter->role == ROLE_GRID ? SUNSPEC_METER : SUNSPEC_EITHER;
        of->map = meter->map;
        return STATUS_DONE;
    }
    const char *nearest = text_nearest(name, names, settings->meter_count);
    return complain(STATUS_REFUSED, "there is no meter \"%s\" in the settings%s%s%s", name,
                    nearest ? "; do you mean \"" : "", nearest ? nearest : "",
                    nearest ? "\"?" : "");
}

static enum status from_settings(const struct wish *wish, const char *name, struct reading_of *of)
{
    if (access(wish->settings, R_OK) != 0)
        return complain(STATUS_NOT_THERE,
                        "\"%s\" cannot be read: %m; a settings file is expected (--settings "
                        "FILE), or a map and a line: --map MAP with --tcp or --serial",
                        wish->settings);
    bool usual = strcmp(wish->maps, MAPS_DEFAULT) == 0;
    enum status status;
    struct settings *settings =
        read_settings(wish->settings, usual ? NULL : wish->maps, NULL, &status);
    if (settings)
        status = take_meter(settings, name, of);
    settings_free(settings);
    return status;
}

#define SIGNS_TURNED "; signs are the device's, the settings turn them round"

/* ---- asking the daemon --------------------------------------------------------------------- */

static void print_last_values(const cJSON *values, int64_t age_ms, bool inverted)
{
    char age[48];
    struct text text = text_in(age, sizeof age);
    quantity_write(QUANTITY_DURATION_MS, age_ms, &text);
    printf("  read by sluiced %s ago%s\n", age, inverted ? SIGNS_TURNED : "");
    for (int q = 0; q < METER_QUANTITIES; q++) {
        const char *word = meter_quantity_word((enum meter_quantity)q);
        const cJSON *number = cJSON_GetObjectItemCaseSensitive(values, word);
        char value[48];
        text = text_in(value, sizeof value);
        if (!cJSON_IsNumber(number))
            continue;
        meter_value_write((enum meter_quantity)q, (int64_t)number->valuedouble, &text);
        printf("  %-14s %s\n", word, value);
    }
}

/* Why its last read failed; NULL: it did not. */
static const char *fault_of(const cJSON *answer)
{
    const cJSON *outcome = cJSON_GetObjectItemCaseSensitive(answer, "outcome");
    const cJSON *detail = cJSON_GetObjectItemCaseSensitive(answer, "detail");
    if (!cJSON_IsString(outcome) || strcmp(outcome->valuestring, bus_outcome_text(BUS_OK)) == 0)
        return NULL;
    return cJSON_IsString(detail) && *detail->valuestring ? detail->valuestring
                                                          : outcome->valuestring;
}

/* What the daemon last read. False: no daemon answers, or it knows no such meter. */
static bool read_from_daemon(const struct invocation *at, const struct reading_of *of,
                             const char *name, enum status *status)
{
    char request[64];
    struct trouble trouble;
    snprintf(request, sizeof request, "meter %.40s", name);
    char *answer = control_ask(at->socket, request, &trouble);
    cJSON *json = answer ? cJSON_Parse(answer) : NULL;
    const cJSON *values = cJSON_GetObjectItemCaseSensitive(json, "values");
    const cJSON *age = cJSON_GetObjectItemCaseSensitive(json, "age_ms");
    const char *fault = fault_of(json);
    bool known = cJSON_IsObject(values);
    *status = STATUS_DONE;
    if (known && cJSON_IsNumber(age))
        print_last_values(values, (int64_t)age->valuedouble, of->inverted);
    else if (known)
        *status = complain(STATUS_REFUSED, "sluiced has not read meter %s yet%s%s", name,
                           fault ? ": " : "", fault ? fault : "");
    if (known && cJSON_IsNumber(age) && fault)
        *status = complain(STATUS_NOT_THERE, "the last read of meter %s failed: %s", name, fault);
    cJSON_Delete(json);
    free(answer);
    return known;
}

/* Rounds until `times` are over. False: the daemon is not there. */
static bool read_beside_daemon(const struct invocation *at, const struct reading_of *of,
                               const char *name, int64_t every_ms, int64_t times,
                               enum status *status)
{
    struct mono next = now();
    if (!of->bus.port[0] || !read_from_daemon(at, of, name, status))
        return false;
    for (int64_t k = 1; k < times && !ferror(stdout); k++) {
        next = mono_after(next, every_ms);
        wait_until(next);
        putchar('\n');
        if (!read_from_daemon(at, of, name, status))
            break;
        fflush(stdout);
    }
    return true;
}

static enum status complain_listened(const struct reading_of *of, const char *name)
{
    return complain(STATUS_REFUSED,
                    "bus %s is only listened to (mode: listen), so meter %s can't be polled: "
                    "\"sluice bus listen %s\" shows what another master polls",
                    of->bus.name, name, of->bus.port);
}

/* ---- asking the meter ---------------------------------------------------------------------- */

static bool ask(struct reading_of *of, struct exchange *question)
{
    question->unit = of->unit;
    line_exchange(of->line, question, now());
    return question->outcome == BUS_OK;
}

static enum status complain_outcome(const struct exchange *question)
{
    enum status status = question->outcome == BUS_EXCEPTION || question->outcome == BUS_CORRUPT
                             ? STATUS_REFUSED
                             : STATUS_NOT_THERE;
    return complain(
        status, "%s (asked: %u %s register%s at 0x%04x)", question->detail, question->count,
        meter_table_word(question->function == READ_INPUT ? METER_INPUT : METER_HOLDING),
        question->count == 1 ? "" : "s", question->address);
}

/* Writes the map of a SunSpec device by walking along its models. */
static enum status walk(struct reading_of *of)
{
    struct sunspec_walk walk;
    sunspec_begin(&walk);
    walk.wanted = of->wanted;
    while (walk.state == SUNSPEC_ASKING) {
        struct exchange question = {
            .function = READ_HOLDING, .address = walk.address, .count = walk.count};
        bool answered = ask(of, &question);
        if (!answered && question.outcome != BUS_EXCEPTION)
            return complain_outcome(&question);
        sunspec_feed(&walk, answered ? question.value : NULL);
    }
    if (walk.state != SUNSPEC_FOUND)
        return complain(STATUS_REFUSED,
                        "unit %u shows no SunSpec meter or inverter that is known here", of->unit);
    printf("%s %s, serial number %s: SunSpec model %u\n", walk.maker, walk.device,
           walk.serial[0] ? walk.serial : "not told", walk.model);
    of->map = walk.map;
    return STATUS_DONE;
}

static int block_of(const struct meter_plan *plan, const struct meter_point *point)
{
    uint32_t end = (uint32_t)point->address + meter_type_registers(point->type);
    for (int k = 0; k < plan->count; k++) {
        const struct meter_block *block = &plan->block[k];
        if (block->table == point->table && block->address <= point->address &&
            end <= (uint32_t)block->address + block->count)
            return k;
    }
    return -1;
}

/* ---- showing ------------------------------------------------------------------------------ */

static void print_registers(const struct meter_point *point, const struct meter_block *block,
                            const uint16_t registers[])
{
    printf("%s 0x%04x:", meter_table_word(point->table), point->address);
    for (uint16_t k = 0; k < meter_type_registers(point->type); k++)
        printf(" %04x", registers[point->address - block->address + k]);
    if (point->scale_register != METER_NO_REGISTER)
        printf(", exponent 0x%04" PRIx32 ": %d", (uint32_t)point->scale_register,
               (int16_t)registers[point->scale_register - block->address]);
}

static void print_point(const struct reading_of *of, const struct meter_point *point,
                        const struct heard_block heard[], const struct meter_sample *sample)
{
    char value[48];
    struct text text = text_in(value, sizeof value);
    int at = block_of(&of->plan, point);
    bool answered = at >= 0 && heard[at].outcome == BUS_OK;
    if (sample->has >> point->quantity & 1)
        meter_value_write(point->quantity, sample->value[point->quantity], &text);
    else
        text_add(&text, "%s", answered ? "not available" : "refused");
    printf("  %-14s %-16s ", meter_quantity_word(point->quantity), value);
    if (answered)
        print_registers(point, &of->plan.block[at], heard[at].value);
    else
        printf("%s 0x%04x: exception %u", meter_table_word(point->table), point->address,
               at >= 0 ? heard[at].exception : 0);
    putchar('\n');
}

/* As the daemon does: a refused block is asked in parts from then on. */
static bool split(struct reading_of *of, uint8_t k, const struct exchange *question)
{
    uint8_t parts = of->sunspec || question->exception != ILLEGAL_ADDRESS
                        ? 0
                        : meter_plan_split(&of->map, &of->plan, k);
    if (parts > 0)
        printf("  the unit refuses %u %s registers at 0x%04x together: asked in %u parts\n",
               question->count,
               meter_table_word(question->function == READ_INPUT ? METER_INPUT : METER_HOLDING),
               question->address, parts);
    return parts > 0;
}

static enum status say_refused(const struct reading_of *of, int refused)
{
    if (refused == of->plan.count)
        return complain(STATUS_REFUSED,
                        "unit %u refuses %d of %u requests: the map %s is not this meter's, or not "
                        "this unit's",
                        of->unit, refused, of->plan.count, of->map.name);
    return complain(STATUS_REFUSED,
                    "unit %u refuses %d of %u requests: what is marked refused is left out by the "
                    "daemon. Is the map %s of another version of the meter?",
                    of->unit, refused, of->plan.count, of->map.name);
}

/* One round. Silence or a garbled answer ends it with nothing shown. */
static enum status read_round(struct reading_of *of)
{
    struct heard_block heard[METER_POINTS_MAX];
    struct meter_sample sample = {.has = 0};
    int64_t took_us = 0;
    int refused = 0;
    for (uint8_t k = 0; k < of->plan.count;) {
        const struct meter_block *block = &of->plan.block[k];
        struct exchange question = exchange_of_block(of->unit, block);
        bool answered = ask(of, &question);
        if (!answered && question.outcome != BUS_EXCEPTION)
            return complain_outcome(&question);
        took_us += question.took_us;
        if (!answered && split(of, k, &question))
            continue;
        refused += !answered;
        heard[k].outcome = question.outcome;
        heard[k].exception = question.exception;
        memcpy(heard[k].value, question.value, sizeof heard[k].value);
        if (answered)
            meter_decode(&of->map, block, question.value, &sample);
        k++;
    }
    for (uint8_t k = 0; k < of->map.point_count; k++)
        print_point(of, &of->map.point[k], heard, &sample);
    printf("  %u request%s, %" PRId64 ".%" PRId64 " ms\n", of->plan.count,
           of->plan.count == 1 ? "" : "s", took_us / 1000, took_us % 1000 / 100);
    return refused == 0 ? STATUS_DONE : say_refused(of, refused);
}

/* Rounds until `times` are over; a failed one is said and the next one tried. */
static enum status read_rounds(struct reading_of *of, int64_t every_ms, int64_t times)
{
    enum status status = STATUS_DONE;
    struct mono next = now();
    for (int64_t k = 0; k < times; k++) {
        if (k > 0) {
            next = mono_after(next, every_ms);
            wait_until(next);
            putchar('\n');
        }
        status = read_round(of);
        fflush(stdout);
        if (ferror(stdout))
            break;
    }
    return status;
}

static enum status open_and_read(struct reading_of *of, int64_t every_ms, int64_t times)
{
    struct trouble trouble;
    of->line = line_new(&of->bus, &of->quality, &trouble);
    if (!of->line)
        return complain(STATUS_NOT_THERE, "%s", trouble.text);
    enum status status = of->sunspec ? walk(of) : STATUS_DONE;
    if (status == STATUS_DONE && !meter_plan_make(&of->map, &of->plan, &trouble))
        status = complain(STATUS_REFUSED, "%s: %s", of->map.name, trouble.text);
    if (status == STATUS_DONE) {
        printf("map %s, unit %u at %s%s\n", of->map.name, of->unit,
               of->bus.port[0] ? of->bus.port : of->bus.host, of->inverted ? SIGNS_TURNED : "");
        meter_sureness_print(&of->map, "");
        status = read_rounds(of, every_ms, times);
    }
    line_free(of->line);
    return status;
}

/* ---- the command ---------------------------------------------------------------------------- */

static bool read_pace(const struct wish *wish, int64_t *every_ms, int64_t *times)
{
    struct trouble trouble;
    *every_ms = EVERY_DEFAULT_MS;
    *times = wish->every ? TIMES_MOST : 1;
    if (wish->every && (!quantity_parse(QUANTITY_DURATION_MS, wish->every, every_ms, &trouble) ||
                        *every_ms < 100 || *every_ms > MS_PER_HOUR)) {
        complain(STATUS_USAGE, "--every: \"%s\" is not a time from 100 ms to 1 h", wish->every);
        return false;
    }
    return !wish->times || meter_number("--times", wish->times, 1, TIMES_MOST, times);
}

static bool read_answer(const struct wish *wish, int32_t *answer_ms)
{
    struct trouble trouble;
    int64_t ms;
    if (!wish->answer)
        return true;
    if (quantity_parse(QUANTITY_DURATION_MS, wish->answer, &ms, &trouble) && ms >= 10 &&
        ms <= 10000) {
        *answer_ms = (int32_t)ms;
        return true;
    }
    complain(STATUS_USAGE, "--answer: \"%s\" is not a time from 10 ms to 10 s", wish->answer);
    return false;
}

/* Either one meter of the settings, or a map and one line. */
static bool wish_makes_sense(const struct wish *wish, int words)
{
    bool by_hand = wish->map || wish->tcp || wish->serial || wish->unit;
    if (!by_hand)
        return words == 1;
    if (words == 0 && wish->map && !wish->tcp != !wish->serial)
        return true;
    complain(STATUS_USAGE, words > 0    ? "either a meter of the settings, or --map and a line"
                           : !wish->map ? "--map MAP is needed: how the registers are written"
                                        : "--map needs one line: --tcp HOST:PORT or --serial "
                                          "PORT,BAUD,PARITY");
    return false;
}

enum status meter_read(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {.settings = SETTINGS_DEFAULT, .maps = MAPS_DEFAULT};
    const struct option_row rows[] = {{"--map", &wish.map, NULL, "a map, or sunspec"},
                                      {"--tcp", &wish.tcp, NULL, "HOST:PORT"},
                                      {"--serial", &wish.serial, NULL, "PORT,BAUD,PARITY"},
                                      {"--unit", &wish.unit, NULL, "the meter's unit number"},
                                      {"--every", &wish.every, NULL, "a time, such as 1 s"},
                                      {"--times", &wish.times, NULL, "how often"},
                                      {"--answer", &wish.answer, NULL, "a time, such as 300 ms"},
                                      {"--settings", &wish.settings, NULL, "a settings file"},
                                      {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
                                      {0}};
    struct reading_of of = {.wanted = SUNSPEC_EITHER};
    int64_t every_ms, times;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (!wish_makes_sense(&wish, words))
        return complain_usage(at, "meter");
    if (!read_pace(&wish, &every_ms, &times))
        return STATUS_USAGE;
    enum status status = wish.map ? from_words(&wish, &of) : from_settings(&wish, argv[1], &of);
    if (status != STATUS_DONE)
        return status;
    if (!wish.map && read_beside_daemon(at, &of, argv[1], every_ms, times, &status))
        return status;
    if (of.bus.mode == BUS_LISTEN)
        return complain_listened(&of, argv[1]);
    of.bus.answer_ms = of.bus.answer_ms ? of.bus.answer_ms : ANSWER_DEFAULT_MS;
    if (!read_answer(&wish, &of.bus.answer_ms))
        return STATUS_USAGE;
    quality_begin(&of.quality);
    status = open_and_read(&of, every_ms, times);
    quality_end(&of.quality);
    return status;
}
