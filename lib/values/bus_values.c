/* bus_values.c - the values of the buses and of the gateway: counters since the start. */
#include "getter.h"

/* ---- a unit on a bus ---------------------------------------------------------------------- */

static const struct bus_quality *bus(const struct place *at)
{
    return &at->view->buses[at->outer];
}

static int count_units(const struct place *at)
{
    return bus(at)->unit_count;
}

/* Each counter of a unit, and its sum over the units of the bus. */
#define GET_COUNTER(field)                                                                         \
    GET_NUMBER(field, (int64_t)bus(at)->unit[at->inner].field);                                    \
    GET(all_##field)                                                                               \
    {                                                                                              \
        uint64_t sum = 0;                                                                          \
        for (uint8_t k = 0; k < bus(at)->unit_count; k++)                                          \
            sum += bus(at)->unit[k].field;                                                         \
        set(value, (int64_t)sum);                                                                  \
    }                                                                                              \
    struct place
GET_COUNTER(asked);
GET_COUNTER(answered);
GET_COUNTER(timeouts);
GET_COUNTER(corrupt);
GET_COUNTER(exceptions);
GET_COUNTER(retries);

GET_NUMBER(unit, bus(at)->unit[at->inner].unit);
GET_NUMBER(p50, bus(at)->unit[at->inner].p50_us);
GET_NUMBER(p95, bus(at)->unit[at->inner].p95_us);
GET_NUMBER(p99, bus(at)->unit[at->inner].p99_us);

static const struct value_row unit_rows[] = {
    {.key = "unit", .kind = VALUE_COUNT, .get = get_unit},
    {.key = "asked", .kind = VALUE_COUNT, .get = get_asked},
    {.key = "answered", .kind = VALUE_COUNT, .get = get_answered},
    {.key = "timeouts", .kind = VALUE_COUNT, .get = get_timeouts, .phrase = "% without an answer"},
    {.key = "corrupt", .kind = VALUE_COUNT, .get = get_corrupt, .phrase = "% corrupt"},
    {.key = "exceptions", .kind = VALUE_COUNT, .get = get_exceptions, .phrase = "% refused"},
    {.key = "retries", .kind = VALUE_COUNT, .get = get_retries},
    {.key = "answer_p50_us", .kind = VALUE_COUNT, .get = get_p50},
    {.key = "answer_p95_us", .kind = VALUE_COUNT, .get = get_p95},
    {.key = "answer_p99_us", .kind = VALUE_COUNT, .get = get_p99},
};
static const struct value_group units = {
    .form = GROUP_LIST, .count = count_units, VALUE_ROWS(unit_rows)};

/* ---- a bus -------------------------------------------------------------------------------- */

static int count_buses(const struct place *at)
{
    return at->view->settings->bus_count;
}

GET_TEXT(bus_name, at->view->settings->buses[at->outer].name);
GET_NUMBER(mode, at->view->settings->buses[at->outer].mode == BUS_LISTEN);
GET_NUMBER(noise, (int64_t)bus(at)->noise_bytes);
GET_NUMBER(doubtful, (int64_t)bus(at)->doubtful);
GET_NUMBER(foreign, (int64_t)bus(at)->foreign);
GET_NUMBER(two_masters, bus(at)->two_masters);

/* "unit 1: 12.1 ms, 95 %: 15.0 ms, 99 %: 22.4 ms; unit 2: ..." */
GET(answer_times)
{
    struct text text = text_of(value);
    const char *between = "";
    for (uint8_t k = 0; k < bus(at)->unit_count; k++) {
        const struct bus_unit_quality *unit = &bus(at)->unit[k];
        if (unit->answered == 0)
            continue;
        text_add(&text, "%sunit %u: %d.%d ms, 95 %%: %d.%d ms, 99 %%: %d.%d ms", between,
                 unit->unit, (int)(unit->p50_us / 1000), (int)(unit->p50_us / 100 % 10),
                 (int)(unit->p95_us / 1000), (int)(unit->p95_us / 100 % 10),
                 (int)(unit->p99_us / 1000), (int)(unit->p99_us / 100 % 10));
        between = "; ";
    }
}

static void name_bus(const struct place *at, struct mqtt_property *property)
{
    const char *name = at->view->settings->buses[at->outer].name;
    snprintf(property->node, sizeof(property->node), "bus-%.*s", SETTINGS_NAME_MAX - 1, name);
    snprintf(property->node_name, sizeof(property->node_name), "Bus %s", name);
}

/* A counter as a property. */
#define COUNTER(key_, get_, topic_, name_)                                                         \
    {                                                                                              \
        .key = (key_), .kind = VALUE_COUNT, .get = (get_), .topic = (topic_), .name = (name_),     \
        .slow = true                                                                               \
    }

static const struct value_row bus_rows[] = {
    {.key = "name", .kind = VALUE_TEXT, .get = get_bus_name},
    {.key = "mode", .kind = VALUE_WORD, .words = "poll,listen", .get = get_mode},
    COUNTER(NULL, get_all_asked, "questions", "Polls"),
    COUNTER(NULL, get_all_answered, "answers", "Answers"),
    COUNTER(NULL, get_all_timeouts, "timeouts", "Polls without an answer"),
    COUNTER(NULL, get_all_corrupt, "corrupt", "Corrupt answers (CRC and others)"),
    COUNTER(NULL, get_all_exceptions, "exceptions", "Exceptions"),
    COUNTER(NULL, get_all_retries, "retries", "Retries"),
    {.key = "noise_bytes", .kind = VALUE_COUNT, .get = get_noise},
    COUNTER("doubtful", get_doubtful, "doubtful", "Overheard answers not used"),
    COUNTER("foreign", get_foreign, "foreign", "Polls by another master"),
    {.key = "two_masters", .kind = VALUE_YES_NO, .get = get_two_masters},
    {.kind = VALUE_TEXT,
     .get = get_answer_times,
     .topic = "answer-times",
     .name = "Answer times of each unit",
     .slow = true},
    {.key = "units", .kind = VALUE_GROUP, .group = &units},
};
const struct value_group values_of_bus = {.form = GROUP_LIST,
                                          .count = count_buses,
                                          VALUE_ROWS(bus_rows),
                                          .node = name_bus,
                                          .node_pattern = "bus-NAME"};

/* ---- the gateway -------------------------------------------------------------------------- */

static int has_gateway(const struct place *at)
{
    return at->view->settings->gateway.enabled;
}

/* One that could not begin has counted nothing: that is not known, and not 0. */
#define GET_GATEWAY(field)                                                                         \
    GET_IF(gateway_##field, at->view->gateway->at_work, (int64_t)at->view->gateway->field)
GET_GATEWAY(connections);
GET_GATEWAY(answered);
GET_GATEWAY(passed);
GET_GATEWAY(shared);
GET_GATEWAY(refused);
GET_GATEWAY(turned_away);
GET_GATEWAY(dropped);

GET(gateway_trouble)
{
    if (at->view->gateway->at_work)
        set_text(value, at->view->gateway->trouble);
}

static void name_gateway(const struct place *at, struct mqtt_property *property)
{
    (void)at;
    snprintf(property->node, sizeof(property->node), "gateway");
    snprintf(property->node_name, sizeof(property->node_name), "Gateway");
}

#define SAID_COUNTER(key_, get_, topic_, name_, phrase_)                                           \
    {                                                                                              \
        .key = (key_), .kind = VALUE_COUNT, .get = (get_), .topic = (topic_), .name = (name_),     \
        .slow = true, .phrase = (phrase_)                                                          \
    }

static const struct value_row gateway_rows[] = {
    SAID_COUNTER("connections", get_gateway_connections, "connections", "Connections",
                 "% connection(s)"),
    SAID_COUNTER("answered", get_gateway_answered, "answered", "Answers from what a poll had read",
                 "% answered at once"),
    SAID_COUNTER("passed", get_gateway_passed, "passed", "Requests passed on to a meter",
                 "% passed on to a meter"),
    SAID_COUNTER("shared", get_gateway_shared, "shared", "Answers shared with an equal request",
                 "% answered with an equal request"),
    SAID_COUNTER("refused", get_gateway_refused, "refused", "Exceptions of the gateway's own",
                 "% refused"),
    SAID_COUNTER("turned_away", get_gateway_turned_away, "turned-away", "Connections turned away",
                 "% connection(s) turned away"),
    SAID_COUNTER("dropped", get_gateway_dropped, "dropped", "Connections closed",
                 "% connection(s) closed"),
    {.key = "trouble", .kind = VALUE_TEXT, .get = get_gateway_trouble},
};
const struct value_group values_of_gateway = {.count = has_gateway,
                                              VALUE_ROWS(gateway_rows),
                                              .node = name_gateway,
                                              .node_pattern = "gateway"};
