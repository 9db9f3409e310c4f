/* payload.c - from bytes to a value, or to a reason why not.
 *
 * Two sieves. The first is the same for all: not empty, not too long, text without
 * control characters in well-formed UTF-8. The second is a row for each datatype of
 * the Homie convention 5 ("Property Datatypes", "Formats"): how its format is
 * checked when a property is described, and how a payload is checked against it.
 */
#include "mqtt/payload.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"

typedef bool format_fn(const struct mqtt_property *property, struct trouble *trouble);
typedef bool accept_fn(const struct mqtt_property *property, char value[static MQTT_VALUE_MAX],
                       struct trouble *trouble);

struct datatype_row {
    const char *name;
    format_fn *format;
    accept_fn *accept; /* NULL: nothing of this kind can be set */
};

static bool refuse(struct trouble *trouble, const char *value, const char *expected)
{
    char quoted[TEXT_SHORT_SIZE];
    return trouble_set(trouble, "", "\"%s\": %s expected", text_shorten(quoted, value), expected);
}

/* ---- text ------------------------------------------------------------------------ */

bool payload_text(const void *payload, size_t length, char value[static MQTT_VALUE_MAX],
                  struct trouble *trouble)
{
    const unsigned char *at = payload;
    if (length == 0)
        return trouble_set(trouble, "", "empty");
    if (length >= MQTT_VALUE_MAX)
        return trouble_set(trouble, "", "%zu bytes: at most %d expected", length,
                           MQTT_VALUE_MAX - 1);
    for (size_t i = 0, step; i < length; i += step) {
        step = text_character((const char *)at + i, length - i);
        if (step == 0)
            return trouble_set(trouble, "", "byte %zu is not UTF-8", i + 1);
        if (at[i] < 0x20 || at[i] == 0x7f)
            return trouble_set(trouble, "", "byte %zu is a control character (0x%02x)", i + 1,
                               (unsigned)at[i]);
    }
    memcpy(value, payload, length);
    value[length] = '\0';
    return true;
}

static bool accept_text(const struct mqtt_property *property, char value[static MQTT_VALUE_MAX],
                        struct trouble *trouble)
{
    (void)property, (void)value, (void)trouble;
    return true;
}

static bool no_format(const struct mqtt_property *property, struct trouble *trouble)
{
    if (property->format[0])
        return trouble_set(trouble, "", "format \"%s\" where none is expected", property->format);
    return true;
}

static bool accept_boolean(const struct mqtt_property *property, char value[static MQTT_VALUE_MAX],
                           struct trouble *trouble)
{
    (void)property;
    if (strcmp(value, "true") == 0 || strcmp(value, "false") == 0)
        return true;
    return refuse(trouble, value, "true or false");
}

/* ---- words ------------------------------------------------------------------------- */

static size_t times_listed(const char *words, const char *word, size_t length)
{
    size_t times = 0;
    for (const char *at = words;; at++) {
        size_t this_length = strcspn(at, ",");
        times += this_length == length && memcmp(at, word, length) == 0;
        at += this_length;
        if (!*at)
            return times;
    }
}

static bool enum_format(const struct mqtt_property *property, struct trouble *trouble)
{
    const char *words = property->format;
    for (const char *at = words;; at++) {
        size_t length = strcspn(at, ",");
        if (length == 0 || times_listed(words, at, length) != 1)
            return trouble_set(trouble, "", "format \"%s\": different words expected", words);
        at += length;
        if (!*at)
            return true;
    }
}

static bool accept_enum(const struct mqtt_property *property, char value[static MQTT_VALUE_MAX],
                        struct trouble *trouble)
{
    if (!strchr(value, ',') && times_listed(property->format, value, strlen(value)) == 1)
        return true;
    char expected[MQTT_FORMAT_MAX + 16];
    struct text text = text_in(expected, sizeof(expected));
    text_add(&text, "one of %s", property->format);
    return refuse(trouble, value, expected);
}

/* ---- numbers ------------------------------------------------------------------------- */

/* The parts of "min:max[:step]"; an empty part is "". */
struct range_text {
    bool any;
    char part[3][MQTT_FORMAT_MAX];
};

static bool split_range(const char *format, struct range_text *range)
{
    *range = (struct range_text){.any = format[0] != '\0'};
    int parts = 0;
    for (const char *at = format; range->any; at++) {
        size_t length = strcspn(at, ":");
        if (parts == 3)
            return false;
        memcpy(range->part[parts++], at, length);
        at += length;
        if (!*at)
            break;
    }
    return !range->any || parts >= 2;
}

static bool parse_integer(const char *text, int64_t *number)
{
    size_t sign = text[0] == '-';
    size_t digits = strspn(text + sign, "0123456789");
    if (digits == 0 || text[sign + digits])
        return false;
    errno = 0;
    *number = strtoll(text, NULL, 10);
    return errno == 0;
}

struct range {
    int64_t least, greatest, step;
};

static bool parse_range(const char *format, struct range *range)
{
    struct range_text text;
    *range = (struct range){INT64_MIN, INT64_MAX, 1};
    int64_t *const part[3] = {&range->least, &range->greatest, &range->step};
    bool right = split_range(format, &text);
    for (int k = 0; right && k < 3; k++)
        right = !text.part[k][0] || parse_integer(text.part[k], part[k]);
    return right && range->least <= range->greatest && range->step > 0;
}

/* What may be set has both ends, and no step to be rounded to. */
static bool integer_format(const struct mqtt_property *property, struct trouble *trouble)
{
    struct range range;
    if (!parse_range(property->format, &range))
        return trouble_set(trouble, "", "format \"%s\": min:max[:step] expected", property->format);
    bool bounded = range.least > INT64_MIN && range.greatest < INT64_MAX && range.step == 1;
    return !property->settable || bounded ||
           trouble_set(trouble, "", "format \"%s\": min:max expected", property->format);
}

static bool accept_integer(const struct mqtt_property *property, char value[static MQTT_VALUE_MAX],
                           struct trouble *trouble)
{
    struct range range;
    int64_t number;
    char expected[64];
    if (parse_range(property->format, &range) && parse_integer(value, &number) &&
        number >= range.least && number <= range.greatest)
        return true;
    snprintf(expected, sizeof(expected), "a whole number from %" PRId64 " to %" PRId64, range.least,
             range.greatest);
    return refuse(trouble, value, expected);
}

static bool any_format(const struct mqtt_property *property, struct trouble *trouble)
{
    (void)property, (void)trouble;
    return true;
}

/* ---- the rows ---------------------------------------------------------------------------- */

static const struct datatype_row rows[] = {
    [MQTT_INTEGER] = {"integer", integer_format, accept_integer},
    [MQTT_FLOAT] = {"float", no_format, NULL},
    [MQTT_BOOLEAN] = {"boolean", any_format, accept_boolean},
    [MQTT_STRING] = {"string", no_format, accept_text},
    [MQTT_ENUM] = {"enum", enum_format, accept_enum},
    [MQTT_DATETIME] = {"datetime", no_format, NULL},
};

const char *payload_datatype(enum mqtt_datatype datatype)
{
    return rows[datatype].name;
}

bool payload_format_ok(const struct mqtt_property *property, struct trouble *trouble)
{
    if ((size_t)property->datatype >= sizeof(rows) / sizeof(rows[0]))
        return trouble_set(trouble, "", "there is no datatype %d", (int)property->datatype);
    const struct datatype_row *row = &rows[property->datatype];
    if (property->settable && !row->accept)
        return trouble_set(trouble, "", "a property of datatype %s cannot be set", row->name);
    return row->format(property, trouble);
}

bool payload_accept(const struct mqtt_property *property, const void *payload, size_t length,
                    char value[static MQTT_VALUE_MAX], struct trouble *trouble)
{
    return payload_text(payload, length, value, trouble) &&
           rows[property->datatype].accept(property, value, trouble);
}
