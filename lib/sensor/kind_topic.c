/* kind_topic.c - a topic of the broker that somebody publishes a temperature on: a plain number
 * of degrees Celsius.
 *
 * A retained message says what was so once, and not when: it is not taken. */
#include <math.h>
#include <string.h>

#include "sensor/kind.h"
#include "sensor/small_file.h"

static const struct setting_row rows[] = {
    {.key = "topic",
     .kind = SETTING_TEXT,
     SETTING_AT(struct sensor_settings, topic),
     .initial = "",
     .example = "cellar/tank/temperature",
     .text = "Where the temperature is published: a plain number in °C, such as 54.5. Retained "
             "messages are not taken, since nobody knows how old they are."},
    {.key = "max_age",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct sensor_settings, max_age_ms),
     .least = 10 * MS_PER_S,
     .greatest = 6 * MS_PER_HOUR,
     .initial = "10 min",
     .text = "How long a message counts: several times as long as it is published apart."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static void name(const struct sensor_settings *settings, struct text *text)
{
    text_add(text, "topic %s", settings->topic);
}

static void check(const struct sensor_settings *settings, setting_say *say, void *context)
{
    if (settings->topic[0] == '$' || strpbrk(settings->topic, "+#"))
        say(context, "topic", "topic: one topic, without + or #, and no $ at its beginning");
}

static bool understand(const char *payload, int32_t *mc, struct trouble *trouble)
{
    char quoted[TEXT_SHORT_SIZE];
    double value;
    if (!plain_number(payload, &value))
        return trouble_set(trouble, "", "expected a plain number of °C, such as 54.5, not \"%s\"",
                           text_shorten(quoted, payload));
    *mc = (int32_t)lround(fmax(-1e6, fmin(1e6, value * 1000)));
    return true;
}

const struct sensor_kind sensor_kind_topic = {.word = "topic",
                                              .text =
                                                  "a number that somebody publishes on the broker",
                                              .rows = &own_rows,
                                              .needs = "topic",
                                              .needs_text = "where the temperature is published",
                                              .name = name,
                                              .check = check,
                                              .understand = understand};
