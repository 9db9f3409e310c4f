/* values.h - what is published of the house: one row for each value.
 *
 * A row says what a value is, how it is got from the view of the house (view.h), and who
 * shows it: the status in JSON, a property on the broker, the screen of `sluice status`, the
 * list of `sluice topics`. All four read the same tables (site_values.c, load_values.c,
 * floor_values.c, input_values.c, bus_values.c, fault_values.c); a new value is one row with its
 * function.
 *
 * Rows stand in groups, groups in groups, in the order of the JSON. */
#ifndef SLUICE_VALUES_VALUES_H
#define SLUICE_VALUES_VALUES_H

#include <stdio.h>

#include "core/text.h"
#include "mqtt/mqtt.h"
#include "values/view.h"

/* Which member of the lists that it is in: the load and its floor, the bus and its unit. */
struct place {
    const struct values_view *view;
    int outer, inner; /* -1: in no list */
};

/* Member `k` of a list that is there. */
static inline struct place place_in(const struct place *at, int k)
{
    bool outer = at->outer < 0;
    return (struct place){at->view, outer ? k : at->outer, outer ? -1 : k};
}

/* What a number is. JSON has it in this unit; the broker and the screen in people's. */
enum value_kind {
    VALUE_TEXT,
    VALUE_WORD, /* which of the row's words */
    VALUE_YES_NO,
    VALUE_COUNT,
    VALUE_POWER_W,
    VALUE_ENERGY_MWH,
    VALUE_TIME_MS,
    VALUE_MOMENT, /* wall, ms; as text in RFC 3339 */
    VALUE_PERCENT,
    VALUE_DAYS,
    VALUE_PRICE_MICRO, /* of a kWh */
    VALUE_TEMPERATURE_MC,
    VALUE_GROUP, /* the rows of `group` */
};

enum {
    VALUE_TEXT_MAX = 700,
    /* properties of the greatest house: tests/values says when a row is too many */
    VALUES_TOPICS_MAX =
        32 + SETTINGS_LOADS_MAX * 40 + SETTINGS_BUSES_MAX * 12 + SETTINGS_INPUTS_MAX,
};

struct value {
    bool known;
    int64_t number;
    const char *text; /* in the view, or in `buffer` */
    char buffer[VALUE_TEXT_MAX];
};

/* What may be ordered by a property. */
enum value_order {
    ORDER_NONE,
    ORDER_RUN,
    ORDER_MODE,
    ORDER_RUN_FOR,
    ORDER_ENABLE,
    ORDER_INHIBIT,
    ORDER_HOLIDAY
};

struct value_row {
    const char *key; /* in the JSON; NULL: it is not there */
    enum value_kind kind;
    const char *words; /* of VALUE_WORD, in the order of their numbers: "off,on" */
    void (*get)(const struct place *at, struct value *value);
    const struct value_group *group;

    const char *topic; /* the property's id; NULL: it is not on the broker */
    const char *name;  /* what it is, as the broker's clients and the documentation say it */
    bool (*topic_when)(const struct place *at); /* where the broker is told less than the JSON,
                                                   which says beside it how old a value is */
    enum value_order order;
    const char *range; /* of a number that may be ordered: "0:60" */
    const char *takes; /* what may be ordered, for the documentation */
    bool slow;         /* the broker gets it at most each 10 s, but for a change of state */

    /* The screen: what it says, with '%' for the value and "(s)" for a plural; after '|' what
     * it says of a negative number or of "no". NULL: nothing, or a sentence of the screen's
     * own has it. */
    const char *phrase;
};

enum group_form { GROUP_OBJECT, GROUP_LIST, GROUP_BARE_LIST /* of values without a key */ };

struct value_group {
    enum group_form form;
    /* How many there are: of an object 1 or 0. -1, or an object's 0: null. NULL: always one. */
    int (*count)(const struct place *at);
    const struct value_row *rows;
    int row_count;
    /* Its properties are a node of their own: its id and name. NULL: of the node around it. */
    void (*node)(const struct place *at, struct mqtt_property *property);
    const char *node_pattern; /* that id in the documentation: "bus-NAME" */
    const char *numbered;     /* before the ids of a list in a node: "floor" */
};

#define VALUE_ROWS(array) .rows = (array), .row_count = (int)(sizeof(array) / sizeof((array)[0]))

extern const struct value_group values_of_site; /* all of them */

/* Of a group within: "loads.today". NULL: there is none. */
const struct value_group *values_group(const char *path);

/* The whole status as JSON on one line, to be freed; NULL: no memory. */
char *values_json(const struct values_view *view);

/* ---- as properties on the broker ------------------------------------------------------- */

struct topic {
    const struct value_row *row;
    struct place at;
    const struct value_group *node, *group;
};

typedef void topic_fn(void *context, int index, const struct topic *topic);

/* Each property in the one order that gives it its index; returns how many there are. */
int values_each_topic(const struct values_view *view, topic_fn *each, void *context);

void topic_describe(const struct topic *topic, struct mqtt_property *property);
/* Nothing where it is not known. */
void topic_write(const struct topic *topic, struct text *text);

/* All topics there can be, in words for people, one after the other. */
typedef void value_topic_line(void *context, const char *topic, const char *what,
                              const char *payload);
void values_list_topics(value_topic_line *line, void *context);

/* ---- words ------------------------------------------------------------------------------ */

/* "2026-01-14T10:00:00+11:00" (RFC 3339). */
void value_write_moment(const struct zone *zone, struct wall wall, struct text *text);
/* The number'th word of "a,b,c". */
void value_write_word(const char *words, int64_t number, struct text *text);
/* The decision's reason, with the names of loads. */
void decision_text(const struct settings *settings, const struct decision *decision,
                   struct text *text);

#endif
