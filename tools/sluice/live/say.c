/* say.c - a number becomes words by its row: the unit from what it is, the rest from the
 * phrase. */
#include "say.h"

#include <inttypes.h>
#include <string.h>

#include "core/quantity.h"
#include "sluice/page/show.h"

enum { SHOWN_MWH = 5000 }; /* less is shown as 0.00 kWh */

/* ---- reading JSON ---------------------------------------------------------------- */

const cJSON *get(const cJSON *from, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(from, key);
}

static int64_t whole(const cJSON *item)
{
    bool ok = cJSON_IsNumber(item) && item->valuedouble > -9e15 && item->valuedouble < 9e15;
    return ok ? (int64_t)item->valuedouble : cJSON_IsTrue(item);
}

bool number(const cJSON *from, const char *key, int64_t *value)
{
    *value = whole(get(from, key));
    return cJSON_IsNumber(get(from, key));
}

const char *words(const cJSON *from, const char *key)
{
    const cJSON *item = get(from, key);
    return cJSON_IsString(item) ? item->valuestring : "";
}

bool yes(const cJSON *from, const char *key)
{
    return cJSON_IsTrue(get(from, key));
}

bool is(const cJSON *from, const char *key, const char *word)
{
    return strcmp(words(from, key), word) == 0;
}

/* ---- times ------------------------------------------------------------------------- */

void say_time(struct text *text, const char *iso, int32_t today)
{
    static const char *const days[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    struct local local;
    if (!show_read_time(iso, &local)) {
        text_add(text, "an unknown time");
        return;
    }
    if (local.day - today > 6)
        show_date(text, date_of_days(local.day));
    else if (local.day != today)
        text_add(text, "%s", days[weekday_of_days(local.day)]);
    if (local.day != today)
        text_add(text, " ");
    show_clock(text, local.second);
}

void say_date_and_time(struct text *text, const char *iso)
{
    say_time(text, iso, INT32_MIN / 2); /* no day that people would call this week's */
}

/* ---- values ------------------------------------------------------------------------- */

static void say_number(struct text *text, enum value_kind kind, int64_t value)
{
    switch (kind) {
    case VALUE_POWER_W:
        show_power(text, value);
        break;
    case VALUE_ENERGY_MWH:
        show_energy(text, value);
        break;
    case VALUE_TIME_MS:
        show_duration(text, value);
        break;
    case VALUE_PERCENT:
        text_add(text, "%" PRId64 " %%", value);
        break;
    case VALUE_PRICE_MICRO:
        quantity_write(QUANTITY_PRICE_MICRO, value / 1000 * 1000, text);
        break;
    case VALUE_TEMPERATURE_MC:
        quantity_write(QUANTITY_TEMPERATURE_MC, (value + (value < 0 ? -50 : 50)) / 100 * 100, text);
        break;
    default:
        show_count(text, value);
    }
}

static void say_item(struct text *text, const struct value_row *row, const cJSON *item)
{
    if (cJSON_IsString(item) && row->kind == VALUE_MOMENT)
        say_date_and_time(text, item->valuestring);
    else if (cJSON_IsString(item))
        text_add(text, "%s", item->valuestring);
    else
        say_number(text, row->kind, whole(item));
}

/* From `phrase` to its end, or to the '|'. */
static void say_phrase(struct text *text, const struct value_row *row, const char *phrase,
                       const cJSON *item)
{
    for (; *phrase && *phrase != '|'; phrase++)
        if (*phrase == '%')
            say_item(text, row, item);
        else if (strncmp(phrase, "(s)", 3) == 0)
            text_add(text, "%s", (phrase += 2) && whole(item) == 1 ? "" : "s");
        else
            text_add(text, "%c", *phrase);
}

static bool is_nothing(const struct value_row *row, const cJSON *item)
{
    if (cJSON_IsString(item))
        return item->valuestring[0] == '\0';
    int64_t value = whole(item);
    return row->kind == VALUE_TIME_MS      ? value < MS_PER_S
           : row->kind == VALUE_ENERGY_MWH ? value > -SHOWN_MWH && value < SHOWN_MWH
                                           : value == 0;
}

static void say_row(struct text *text, const struct value_row *row, const cJSON *item)
{
    const char *other = strchr(row->phrase, '|');
    bool is_other = other && (whole(item) < 0 || cJSON_IsFalse(item));
    if (!item || cJSON_IsNull(item) || (!is_other && is_nothing(row, item)))
        return;
    if (text->used)
        text_add(text, ", ");
    say_phrase(text, row, is_other ? other + 1 : row->phrase, item);
}

void say_group(struct text *text, const char *path, const cJSON *from)
{
    const struct value_group *group = values_group(path);
    for (int k = 0; k < group->row_count; k++)
        if (group->rows[k].key && group->rows[k].phrase)
            say_row(text, &group->rows[k], get(from, group->rows[k].key));
}
