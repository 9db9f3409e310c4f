/* line.c - one question, one answer, and a quiet line afterwards.
 *
 * Nothing in an RTU frame says which question it answers: the same unit,
 * function and length may be the late answer to the last question. So before
 * each question the input is flushed, and after anything but a good answer the
 * line is listened out for one more answer time and flushed again. On TCP the
 * transaction number tells, and the connection is closed instead: its stream
 * may hold half a frame.
 *
 * libmodbus opens the port, adds the checksum, and receives; its error recovery
 * stays off, since it sleeps, loops and reconnects by itself. Its byte timeout is
 * set to 0: then the response timeout governs the whole answer, and a peer that
 * drips cannot hold the worker for longer. */
#include "bus/line.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "bus/backoff.h"
#include "bus/others.h"
#include "bus/port.h"
#include "core/text.h"
#include "loop/clock.h"

enum {
    SLACK_MS = 30,                       /* a USB adapter hands over what it has every 16 ms */
    HEADER_BYTES = FRAME_MBAP_BYTES - 1, /* of TCP, before the unit */
    CHECKSUM_BYTES = 2,
};

struct line {
    struct bus_settings settings;
    modbus_t *context; /* NULL: closed */
    struct backoff backoff;
    uint16_t transaction;
    bool echoes;      /* what was sent came back: acknowledgements mean nothing */
    int64_t quiet_us; /* when the last byte went over the line */
    struct quality *quality;
    struct others others;
};

/* What came, and how receiving it ended. libmodbus does not say how much of a
 * broken answer it has: so the bytes begin as what no right answer begins with. */
struct receipt {
    uint8_t bytes[MODBUS_MAX_ADU_LENGTH];
    uint8_t blank;
    int length; /* -1: see error */
    int error;
};

static bool is_serial(const struct line *line)
{
    return line->settings.port[0] != '\0';
}

static const char *peer(const struct line *line)
{
    return is_serial(line) ? line->settings.port : line->settings.host;
}

struct line *line_new(const struct bus_settings *settings, struct quality *quality,
                      struct trouble *trouble)
{
    if (!port_check(settings, trouble)) {
        return NULL;
    }
    struct line *line = calloc(1, sizeof *line);
    if (!line) {
        trouble_set(trouble, settings->name, "no memory for a bus");
        return NULL;
    }
    line->settings = *settings;
    line->quality = quality;
    others_begin(&line->others);
    return line;
}

void line_free(struct line *line)
{
    if (!line) {
        return;
    }
    port_close(&line->settings, &line->context);
    free(line);
}

void line_limit_rests(struct line *line, uint8_t unit, int64_t grace_ms, int64_t rest_most_ms)
{
    backoff_limit_rests(&line->backoff, unit, grace_ms, rest_most_ms);
}

bool line_unit_lost(const struct line *line, uint8_t unit)
{
    return backoff_lost(&line->backoff, unit);
}

static int64_t transfer_ms(const struct line *line, size_t bytes)
{
    return is_serial(line) ? (int64_t)bytes * 11 * 1000 / line->settings.baud + 1 : 0;
}

/* How long the whole answer may take: to begin, and to be transferred. */
static int64_t wait_limit_ms(const struct line *line, const struct exchange *exchange, size_t sent)
{
    return line->settings.answer_ms + SLACK_MS +
           transfer_ms(line, sent + request_answer_length(exchange) + 2 * CHECKSUM_BYTES);
}

/* -- opening and closing -------------------------------------------------- */

static bool open_line(struct line *line, struct exchange *exchange, struct mono now)
{
    if (!backoff_may_open(&line->backoff, now)) {
        exchange_end(exchange, BUS_DOWN, "%s: not connected; trying again in %d s", peer(line),
                     (int)((mono_since_ms(line->backoff.retry_at, now) + 999) / 1000));
        return false;
    }
    struct trouble trouble;
    line->context = port_open(&line->settings, &trouble);
    if (!line->context) {
        backoff_did_not_open(&line->backoff, now);
        exchange_end(exchange, BUS_DOWN, "%s", trouble.text);
        return false;
    }
    modbus_set_error_recovery(line->context, MODBUS_ERROR_RECOVERY_NONE);
    modbus_set_byte_timeout(line->context, 0, 0);
    backoff_opened(&line->backoff);
    return true;
}

/* A port that broke is not reopened at once: a peer that accepts and hangs up would
 * otherwise be called at every poll. */
static void break_line(struct line *line, struct exchange *exchange, const char *why,
                       struct mono now)
{
    port_close(&line->settings, &line->context);
    backoff_did_not_open(&line->backoff, now);
    exchange_end(exchange, BUS_DOWN, "%s: %s", peer(line), why);
}

/* A TCP peer may close an idle connection, an adapter may be pulled: both show
 * before the next question is wasted on them. */
static bool hung_up(const struct line *line)
{
    struct pollfd state = {.fd = modbus_get_socket(line->context), .events = POLLIN};
    if (poll(&state, 1, 0) <= 0) {
        return false;
    }
    if (state.revents & (POLLHUP | POLLERR | POLLNVAL)) {
        return true;
    }
    uint8_t byte;
    return !is_serial(line) && recv(state.fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
}

static bool ready_line(struct line *line, struct exchange *exchange, struct mono now)
{
    if (line->context && hung_up(line)) {
        port_close(&line->settings, &line->context);
    }
    return line->context || open_line(line, exchange, now);
}

/* -- keeping the line quiet ----------------------------------------------- */

static void sleep_us(int64_t us)
{
    if (us > 0) {
        struct timespec t = {.tv_sec = us / 1000000, .tv_nsec = (long)(us % 1000000) * 1000};
        nanosleep(&t, NULL);
    }
}

/* What came unasked is read away, but not unheard. */
static void clear_input(struct line *line)
{
    uint8_t bytes[1024];
    ssize_t count = 0;
    struct pollfd input = {.fd = modbus_get_socket(line->context), .events = POLLIN};
    for (int i = 0; is_serial(line) && i < 8 && poll(&input, 1, 0) == 1; i++) {
        count = read(input.fd, bytes, sizeof bytes);
        if (count <= 0)
            break;
        others_hear(&line->others, bytes, (size_t)count, clock_monotonic_us());
    }
    if (count > 0) {
        others_quiet(&line->others);
        quality_line(line->quality, line->others.listener.counts.noise_bytes, 0,
                     line->others.questions, others_are_there(&line->others));
    }
    modbus_flush(line->context);
}

/* Reads away what comes until nothing has come for one answer time: an answer may
 * still be on its way, or be coming in pieces. A line that never rests is left
 * after three. */
static void listen_out(struct line *line)
{
    struct pollfd input = {.fd = modbus_get_socket(line->context), .events = POLLIN};
    int64_t end_us = clock_monotonic_us() + 3000 * (int64_t)line->settings.answer_ms;
    uint8_t late[256];
    while (clock_monotonic_us() < end_us && poll(&input, 1, line->settings.answer_ms) == 1) {
        ssize_t count = input.revents & POLLIN ? read(input.fd, late, sizeof late) : -1;
        if (count <= 0) {
            return; /* gone: the next exchange finds out */
        }
        others_hear(&line->others, late, (size_t)count, clock_monotonic_us());
    }
    modbus_flush(line->context);
}

static void calm_line(struct line *line)
{
    if (is_serial(line)) {
        listen_out(line);
    } else {
        port_close(&line->settings, &line->context);
    }
}

/* -- sending -------------------------------------------------------------- */

static bool send_tcp(struct line *line, const uint8_t *question, size_t length)
{
    uint8_t frame[FRAME_TCP_MAX];
    line->transaction++;
    size_t whole =
        frame_mbap_build(frame, line->transaction, question[0], question + 1, length - 1);
    return send(modbus_get_socket(line->context), frame, whole, MSG_NOSIGNAL) == (ssize_t)whole;
}

static bool send_serial(struct line *line, uint8_t *question, size_t length)
{
    sleep_us(line->quiet_us + frame_gap_us(line->settings.baud) - clock_monotonic_us());
    modbus_set_slave(line->context, question[0]);
    return modbus_send_raw_request(line->context, question, (int)length) ==
           (int)length + CHECKSUM_BYTES;
}

/* -- receiving and judging ------------------------------------------------ */

static void receive(struct line *line, struct receipt *receipt, uint8_t first, int64_t wait_ms)
{
    receipt->blank = (uint8_t)~first;
    memset(receipt->bytes, receipt->blank, sizeof receipt->bytes);
    modbus_set_response_timeout(line->context, (uint32_t)(wait_ms / 1000),
                                (uint32_t)(wait_ms % 1000) * 1000);
    errno = 0;
    receipt->length = modbus_receive_confirmation(line->context, receipt->bytes);
    receipt->error = errno;
}

static bool came_anything(const struct receipt *receipt)
{
    for (size_t i = 0; i < sizeof receipt->bytes; i++) {
        if (receipt->bytes[i] != receipt->blank) {
            return true;
        }
    }
    return false;
}

/* Unit, function, address and the count's high byte, as sent: no answer to a
 * read begins so. More is not always there: with an address below 256 libmodbus
 * takes the echo for an empty answer and stops. */
static bool is_echo(const struct receipt *receipt, const uint8_t *question)
{
    enum { TELLING_BYTES = 5 };
    return memcmp(receipt->bytes, question, TELLING_BYTES) == 0;
}

static void judge_serial(struct exchange *exchange, const struct receipt *receipt)
{
    if (receipt->length == 0) { /* libmodbus 3.1.6 drops other units' frames so */
        exchange_end(exchange, BUS_CORRUPT, "unit %u was polled, unit %u replied", exchange->unit,
                     receipt->bytes[0]);
    } else {
        request_decode(exchange, receipt->bytes, (size_t)receipt->length - CHECKSUM_BYTES);
    }
}

static void judge_tcp(const struct line *line, struct exchange *exchange,
                      const struct receipt *receipt)
{
    struct frame_content content;
    int whole = frame_mbap_check(receipt->bytes, (size_t)receipt->length, &content);
    if (whole <= 0 || whole != receipt->length || content.transaction != line->transaction) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u: the reply's header matches no request",
                     exchange->unit);
    } else {
        request_decode(exchange, receipt->bytes + HEADER_BYTES,
                       (size_t)receipt->length - HEADER_BYTES);
    }
}

/* Errors that are the frame's, not the port's. */
static bool is_frame_error(int error)
{
    return error == EMBBADCRC || error == EMBBADDATA || error == EMBBADSLAVE || error == EMBMDATA ||
           error == EMBBADEXC || error == EMBUNKEXC;
}

static void judge(struct line *line, struct exchange *exchange, const struct receipt *receipt,
                  struct mono now)
{
    if (receipt->length >= 0 && is_serial(line)) {
        judge_serial(exchange, receipt);
    } else if (receipt->length >= 0) {
        judge_tcp(line, exchange, receipt);
    } else if (receipt->error == ETIMEDOUT && !came_anything(receipt)) {
        exchange_end(
            exchange, BUS_TIMEOUT,
            is_serial(line)
                ? "unit %u does not answer within %d ms: check A/B, power, unit id, baud rate"
                : "unit %u does not answer within %d ms: check power, unit id",
            exchange->unit, (int)line->settings.answer_ms);
    } else if (receipt->error == ETIMEDOUT) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u: incomplete reply", exchange->unit);
    } else if (is_frame_error(receipt->error)) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u: garbled reply (%s)", exchange->unit,
                     modbus_strerror(receipt->error));
    } else {
        break_line(line, exchange, modbus_strerror(receipt->error), now);
    }
}

static bool is_write(const struct exchange *exchange)
{
    return exchange->function >= WRITE_COIL;
}

/* Only a read shows an echo: a write's answer repeats the order by rule. So once
 * a read has shown one, no write is believed until a read has come back clean. */
static void judge_echo(struct line *line, struct exchange *exchange, const struct receipt *receipt,
                       const uint8_t *question)
{
    if (!is_serial(line) || exchange->outcome == BUS_DOWN || exchange->outcome == BUS_TIMEOUT) {
        return;
    }
    if (!is_write(exchange)) {
        line->echoes = exchange->outcome == BUS_CORRUPT && is_echo(receipt, question);
    }
    if (line->echoes) {
        exchange_end(exchange, BUS_CORRUPT, "the adapter echoes what is sent: switch its echo off");
    }
}

/* -- one exchange --------------------------------------------------------- */

/* A gateway's words for a unit that is silent behind it. */
static bool is_silence_of_a_gateway(const struct exchange *exchange)
{
    return exchange->outcome == BUS_EXCEPTION &&
           (exchange->exception == PATH_UNAVAILABLE || exchange->exception == TARGET_SILENT);
}

/* `waited_ms`: the time allowed for the answer. A silent serial line is then listened out. */
static void remember(struct line *line, const struct exchange *exchange, int64_t waited_ms,
                     int64_t took_us, struct mono now)
{
    struct backoff *backoff = &line->backoff;
    int64_t listening_ms = is_serial(line) ? line->settings.answer_ms : 0;
    if (exchange->outcome == BUS_TIMEOUT) {
        backoff_silent(backoff, exchange->unit, waited_ms + listening_ms, now);
    } else if (is_silence_of_a_gateway(exchange)) {
        backoff_silent(backoff, exchange->unit, (took_us + 999) / 1000, now);
    } else if (exchange->outcome == BUS_OK || exchange->outcome == BUS_EXCEPTION) {
        backoff_answered(backoff, exchange->unit, now);
    }
    if (exchange->outcome == BUS_OK || exchange->outcome == BUS_EXCEPTION) {
        backoff_line_is_well(backoff);
    }
}

static void ask(struct line *line, struct exchange *exchange, struct mono now)
{
    uint8_t question[REQUEST_BYTES_MAX];
    size_t length = request_encode(exchange, question);
    int64_t wait_ms = wait_limit_ms(line, exchange, length);
    clear_input(line);
    others_own(&line->others, question, length);
    int64_t begun_us = clock_monotonic_us();
    bool sent =
        is_serial(line) ? send_serial(line, question, length) : send_tcp(line, question, length);
    if (!sent) {
        break_line(line, exchange, modbus_strerror(errno), now);
        return;
    }
    struct receipt receipt;
    receive(line, &receipt, is_serial(line) ? exchange->unit : (uint8_t)(line->transaction >> 8),
            wait_ms);
    judge(line, exchange, &receipt, now);
    judge_echo(line, exchange, &receipt, question);
    int64_t took_us = clock_monotonic_us() - begun_us;
    remember(line, exchange, wait_ms, took_us, now);
    quality_count(line->quality, exchange->unit, exchange->outcome, took_us);
    if (exchange->outcome == BUS_TIMEOUT || exchange->outcome == BUS_CORRUPT) {
        calm_line(line);
    }
    line->quiet_us = clock_monotonic_us();
}

/* Is the echo still there? The order is given either way: what is on the other
 * side of the echo may well obey. */
static void look_for_echo(struct line *line, const struct exchange *order, struct mono now)
{
    struct exchange read = {.unit = order->unit,
                            .function = order->function == WRITE_COIL ? READ_COILS : READ_HOLDING,
                            .address = order->address,
                            .count = 1};
    ask(line, &read, now);
}

void line_exchange(struct line *line, struct exchange *exchange, struct mono now)
{
    if (line->settings.mode == BUS_LISTEN) {
        exchange_end(exchange, BUS_LISTENING, "%s is listen-only: unit %u cannot be polled",
                     peer(line), exchange->unit);
        return;
    }
    if (backoff_line_broken(&line->backoff) && !ready_line(line, exchange, now)) {
        return; /* a line that is gone is told as such, and found again, while units rest */
    }
    if (!backoff_may_ask(&line->backoff, exchange->unit, now)) {
        exchange_end(exchange, BUS_BACKING_OFF, "unit %u does not answer; next try in %d s",
                     exchange->unit, backoff_rest_s(&line->backoff, exchange->unit, now));
        return;
    }
    if (!ready_line(line, exchange, now)) {
        return;
    }
    int64_t begun_us = clock_monotonic_us();
    if (line->echoes && is_write(exchange)) {
        look_for_echo(line, exchange, now);
        if (!ready_line(line, exchange, now)) {
            return;
        }
    }
    ask(line, exchange, now);
    exchange->took_us = (int32_t)(clock_monotonic_us() - begun_us);
}
