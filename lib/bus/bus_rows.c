/* bus_rows.c - a bus's settings, as people write them. */
#include "bus/bus.h"
#include "core/serial_line.h"

static const struct setting_choice modes[] = {
    {"poll", BUS_POLL, "sluice, the one master of this line"},
    {"listen", BUS_LISTEN,
     "another master; sluice sends nothing, and nothing on this bus can be switched"},
    {NULL, 0, NULL},
};

static const struct setting_row rows[] = {
    {.key = "port",
     .kind = SETTING_TEXT,
     SETTING_AT(struct bus_settings, port),
     .initial = "",
     .example = "/dev/sluice-meter",
     .text = "Serial device; the udev rule gives the adapter this stable name."},
    {.key = "host",
     .kind = SETTING_TEXT,
     SETTING_AT(struct bus_settings, host),
     .initial = "",
     .example = "192.0.2.10",
     .text = "Modbus TCP: the peer's name or address, instead of a port."},
    {.key = "tcp_port",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct bus_settings, tcp_port),
     .least = 1,
     .greatest = 65535,
     .initial = "502",
     .text = "Modbus TCP: its port."},
    {.key = "mode",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct bus_settings, mode),
     .initial = "poll",
     .choices = modes,
     .text = "Serial: who polls on this line."},
    SERIAL_LINE_ROWS(struct bus_settings),
    {.key = "answer",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct bus_settings, answer_ms),
     .least = 50,
     .greatest = 10000,
     .initial = "1 s",
     .text = "How long a unit may take to start its reply."},
};

const struct setting_rows bus_setting_rows = SETTING_ROWS(rows);
