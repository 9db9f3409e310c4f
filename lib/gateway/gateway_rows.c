/* gateway_rows.c - the gateway's settings, and networks and ranges, as people write them. */
#include <arpa/inet.h>
#include <string.h>

#include "core/serial_line.h"
#include "core/text.h"
#include "gateway/gateway.h"

static const struct setting_choice views[] = {
    {"registers", GATEWAY_REGISTERS, "the meter's own registers, as they are"},
    {"sunspec", GATEWAY_SUNSPEC, "a SunSpec meter, models 201-204: integers with scale factors"},
    {"sunspec-float", GATEWAY_SUNSPEC_FLOAT, "a SunSpec meter, models 211-214: floats"},
    {NULL, 0, NULL},
};

static const struct setting_choice wirings[] = {
    {"as-site", GATEWAY_AS_SITE, "single on one phase, split on two, wye on three"},
    {"single", GATEWAY_SINGLE, "one phase: model 201 or 211"},
    {"split", GATEWAY_SPLIT, "split phase: model 202 or 212"},
    {"wye", GATEWAY_WYE, "three phases and neutral: model 203 or 213"},
    {"delta", GATEWAY_DELTA, "three phases without neutral: model 204 or 214"},
    {NULL, 0, NULL},
};

static const struct setting_row rows[] = {
    {.key = "listen",
     .kind = SETTING_TEXT,
     SETTING_AT(struct gateway_settings, listen),
     .initial = "127.0.0.1",
     .example = "192.0.2.20",
     .text = "Modbus TCP: the address of this machine to listen on; 0.0.0.0 or :: is all. Beyond "
             "loopback it needs allow. Modbus has no password: keep it off networks that you do "
             "not own."},
    {.key = "tcp_port",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct gateway_settings, tcp_port),
     .greatest = 65535,
     .initial = "502",
     .text = "Modbus TCP: the port; 0: none."},
    {.key = "allow",
     .kind = SETTING_WORDS,
     SETTING_AT(struct gateway_settings, allowed),
     .initial = "",
     .example = "[192.0.2.0/24, \"2001:db8::17\"]",
     .text = "Modbus TCP: who is answered, addresses or networks. Other connections are closed."},
    {.key = "port",
     .kind = SETTING_TEXT,
     SETTING_AT(struct gateway_settings, port),
     .initial = "",
     .example = "/dev/sluice-second",
     .text = "Modbus RTU: a second serial device, wired to the other master."},
    SERIAL_LINE_ROWS(struct gateway_settings),
    {.key = "age",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct gateway_settings, age_ms),
     .least = 100,
     .greatest = 3600000,
     .initial = "3 s",
     .text = "How old a reading may be to answer with it; otherwise the meter itself is polled. At "
             "least twice the meter's every, or clients fill the bus."},
    {.key = "wait",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct gateway_settings, wait_ms),
     .least = 50,
     .greatest = 30000,
     .initial = "900 ms",
     .text = "How long a client waits for the meter: a little less than the client's own time-out. "
             "Then it gets exception 06 (busy) or 0B (the meter does not answer)."},
    {.key = "connections",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct gateway_settings, connections),
     .least = 1,
     .greatest = GATEWAY_CONNECTIONS_MAX,
     .initial = "16",
     .text = "Modbus TCP: connections at once."},
    {.key = "connections_each",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct gateway_settings, connections_each),
     .least = 1,
     .greatest = GATEWAY_CONNECTIONS_MAX,
     .initial = "4",
     .text = "Modbus TCP: how many of them from one address."},
    {.key = "rate",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct gateway_settings, rate),
     .least = 1,
     .greatest = 100000,
     .initial = "20",
     .text = "Modbus TCP: requests a second for each; faster ones wait."},
    {.key = "idle",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct gateway_settings, idle_ms),
     .least = 5000,
     .greatest = 86400000,
     .initial = "10 min",
     .text = "Modbus TCP: a silent connection is closed after this."},
    {.key = "serve",
     .kind = SETTING_WORDS,
     SETTING_AT(struct gateway_settings, served),
     .initial = "",
     .example = "[{meter: grid}]",
     .text = "What clients see: each entry is a unit of its own."},
};
const struct setting_rows gateway_setting_rows = SETTING_ROWS(rows);

static const struct setting_row served_rows[] = {
    {.key = "view",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct gateway_served, view),
     .initial = "registers",
     .choices = views,
     .text = "How the meter appears. In a SunSpec view import is positive, and what the meter does "
             "not report is not implemented."},
    {.key = "meter",
     .kind = SETTING_TEXT,
     SETTING_AT(struct gateway_served, meter),
     .initial = NULL,
     .example = "grid",
     .text = "The meter, by its name under meters."},
    {.key = "unit",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct gateway_served, unit),
     .least = 1,
     .greatest = 247,
     .initial = "",
     .example = "1",
     .text = "Its unit id for clients; without one, the meter's own."},
    {.key = "wiring",
     .kind = SETTING_CHOICE,
     .only = 1u << GATEWAY_SUNSPEC | 1u << GATEWAY_SUNSPEC_FLOAT,
     SETTING_AT(struct gateway_served, wiring),
     .initial = "as-site",
     .choices = wirings,
     .text = "Which SunSpec model it is."},
    {.key = "writable",
     .kind = SETTING_WORDS,
     .only = 1u << GATEWAY_REGISTERS,
     SETTING_AT(struct gateway_served, range),
     .initial = "",
     .example = "[holding 100-110, coil 0]",
     .text = "What clients may write, addresses as on the wire; without it nothing. A wrong write "
             "can silence a meter or make it measure wrongly."},
};
const struct setting_rows gateway_served_rows = SETTING_ROWS(served_rows);

/* ---- networks and ranges ------------------------------------------------------------------- */

enum { V4_OFFSET_BITS = 96 };

#define SHORT(word) text_shorten((char[TEXT_SHORT_SIZE]){0}, (word))

/* Digits only: strtol would take signs and blanks. */
static bool number_parse(const char *text, size_t length, unsigned most, unsigned *number)
{
    *number = 0;
    if (length == 0 || length > 5)
        return false;
    for (size_t i = 0; i < length; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *number = *number * 10 + (unsigned)(text[i] - '0');
    }
    return *number <= most;
}

static bool address_parse(const char *text, struct gateway_network *network, unsigned *width)
{
    struct in_addr v4;
    if (inet_pton(AF_INET, text, &v4) == 1) {
        memset(network->address, 0, 10);
        memset(network->address + 10, 0xff, 2);
        memcpy(network->address + 12, &v4, 4);
        *width = 32;
        return true;
    }
    *width = 128;
    return inet_pton(AF_INET6, text, network->address) == 1;
}

static bool has_bits_beyond(const struct gateway_network *network)
{
    for (unsigned bit = network->bits; bit < 128; bit++)
        if (network->address[bit / 8] & 0x80 >> bit % 8)
            return true;
    return false;
}

bool gateway_network_parse(const char *text, struct gateway_network *network,
                           struct trouble *trouble)
{
    char address[48];
    unsigned width, bits;
    const char *slash = strchr(text, '/');
    size_t length = slash ? (size_t)(slash - text) : strlen(text);
    if (length >= sizeof(address))
        return trouble_set(trouble, "", "\"%s\" is not an address", SHORT(text));
    memcpy(address, text, length);
    address[length] = '\0';
    if (!address_parse(address, network, &width))
        return trouble_set(
            trouble, "",
            "\"%s\" is not an address; write one such as 192.0.2.7, or a network such "
            "as 192.0.2.0/24",
            SHORT(text));
    bits = width;
    if (slash && !number_parse(slash + 1, strlen(slash + 1), width, &bits))
        return trouble_set(trouble, "", "\"%s\": behind the slash stands a number up to %u",
                           SHORT(text), width);
    network->bits = (uint8_t)(bits + (width == 32 ? V4_OFFSET_BITS : 0));
    return !has_bits_beyond(network) ||
           trouble_set(trouble, "", "\"%s\" is an address within a network, not the network",
                       SHORT(text));
}

bool gateway_is_loopback(const struct gateway_network *network)
{
    static const uint8_t v4[] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xff, 0xff, 127};
    static const uint8_t v6[16] = {[15] = 1};
    return (network->bits >= 104 && memcmp(network->address, v4, sizeof(v4)) == 0) ||
           (network->bits == 128 && memcmp(network->address, v6, sizeof(v6)) == 0);
}

bool gateway_range_parse(const char *text, struct gateway_range *range, struct trouble *trouble)
{
    static const char holding[] = "holding ", coil[] = "coil ";
    unsigned first, last;
    range->coils = strncmp(text, coil, strlen(coil)) == 0;
    const char *number = text + (range->coils ? strlen(coil) : strlen(holding));
    bool kind_known = range->coils || strncmp(text, holding, strlen(holding)) == 0;
    const char *dash = kind_known ? strchr(number, '-') : NULL;
    if (!kind_known ||
        !number_parse(number, dash ? (size_t)(dash - number) : strlen(number), 65535, &first) ||
        (dash && !number_parse(dash + 1, strlen(dash + 1), 65535, &last)))
        return trouble_set(trouble, "",
                           "\"%s\" is not a range; write one such as holding 100-110, or coil 0",
                           SHORT(text));
    last = dash ? last : first;
    if (last < first)
        return trouble_set(trouble, "", "\"%s\" ends before it begins", SHORT(text));
    range->first = (uint16_t)first;
    range->last = (uint16_t)last;
    return true;
}
