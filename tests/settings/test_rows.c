/* test_rows.c - the table itself: each row can be read by its own rules, and all that
 * follows from the rows is there. */
#include <string.h>

#include "desk.h"
#include "settings/read.h"
#include "settings/sections.h"

typedef void look_at(const struct section *section, const struct setting_row *row);

static int for_each_row(look_at *look)
{
    const struct section *section;
    int count = 0;
    for (int s = 0; (section = section_at(&quote_section, s)); s++)
        for (size_t k = 0; k < section->rows->count; k++, count++)
            look(section, &section->rows->row[k]);
    return count;
}

#define SAY_ROW(section, row, format, ...)                                                         \
    "%s.%s: " format, (section)->path, (row)->key, ##__VA_ARGS__

/* What is written, read by the row alone into nobody's struct. */
static void reads(const struct section *section, const struct setting_row *row, const char *written)
{
    static struct settings_troubles troubles;
    const struct reader reader = {"row", &troubles, NULL};
    char *unquoted = strdup(written[0] == '"' ? written + 1 : written), *scratch;
    struct node node = {.kind = NODE_TEXT, .line = 1, .column = 1, .text = unquoted};
    unquoted[strcspn(unquoted, "\"")] = '\0';
    scratch = calloc(1, row->offset + row->size + sizeof(int64_t));
    bool ok = read_value(&reader, row, &node, scratch);
    ck_assert_msg(ok, SAY_ROW(section, row, "%s", troubles.count ? troubles.item[0].text : ""));
    settings_troubles_free(&troubles);
    free(scratch);
    free(unquoted);
}

static void default_is_readable(const struct section *section, const struct setting_row *row)
{
    if (row->kind != SETTING_WORDS && row->initial && row->initial[0])
        reads(section, row, row->initial);
}

START_TEST(test_each_default_is_within_its_own_limits)
{
    ck_assert_int_gt(for_each_row(default_is_readable), 80);
}
END_TEST

static void example_is_readable(const struct section *section, const struct setting_row *row)
{
    if (row->kind != SETTING_WORDS && row->example)
        reads(section, row, row->example);
    ck_assert_msg((row->initial && row->initial[0]) || row->example,
                  SAY_ROW(section, row, "has neither a default nor an example"));
}

START_TEST(test_each_example_is_within_its_own_limits)
{
    for_each_row(example_is_readable);
}
END_TEST

/* Fields are signed or not; the limits leave no room for the difference. */
static void field_holds_limits(const struct section *section, const struct setting_row *row)
{
    int64_t per = row->per ? row->per : 1;
    if (row->kind != SETTING_QUANTITY)
        return;
    ck_assert_msg(row->least != 0 || row->greatest != 0,
                  SAY_ROW(section, row, "is a quantity without limits"));
    ck_assert_msg(row->least < row->greatest,
                  SAY_ROW(section, row, "its limits are the wrong way"));
    if (row->size == sizeof(int64_t))
        return;
    int64_t most = (INT64_C(1) << (8 * row->size)) - 1;
    ck_assert_msg(row->least / per >= -(most / 2) - 1 && row->greatest / per <= most,
                  SAY_ROW(section, row, "%zu bytes do not hold its limits", row->size));
    ck_assert_msg(row->least >= 0 || row->greatest / per <= most / 2,
                  SAY_ROW(section, row, "%zu signed bytes do not hold its limits", row->size));
}

START_TEST(test_each_field_holds_what_its_limits_allow)
{
    for_each_row(field_holds_limits);
}
END_TEST

static void words_are_complete(const struct section *section, const struct setting_row *row)
{
    size_t length = row->text ? strlen(row->text) : 0;
    ck_assert_msg(length > 10 && row->text[length - 1] == '.',
                  SAY_ROW(section, row, "its text is no sentence"));
    ck_assert_msg(row->kind != SETTING_CHOICE || row->choices,
                  SAY_ROW(section, row, "has nothing to choose from"));
    for (const struct setting_choice *choice = row->choices; choice && choice->word; choice++)
        ck_assert_msg(choice->text && choice->value >= 0 && choice->value < 32,
                      SAY_ROW(section, row, "choice %s", choice->word));
    if (row->only)
        ck_assert_msg(section->rows->row[0].kind == SETTING_CHOICE && row != section->rows->row,
                      SAY_ROW(section, row, "goes only with what is no choice"));
}

START_TEST(test_each_row_has_its_words)
{
    for_each_row(words_are_complete);
}
END_TEST

START_TEST(test_no_key_stands_twice_in_a_section)
{
    const struct section *one, *other;
    for (int s = 0; (one = section_at(&quote_section, s)); s++)
        for (int t = 0; t <= s; t++)
            for (size_t k = 0; k < one->rows->count; k++) {
                other = section_at(&quote_section, t);
                for (size_t j = 0; j < (s == t ? k : other->rows->count); j++)
                    ck_assert_msg(strcmp(one->path, other->path) != 0 ||
                                      strcmp(one->rows->row[k].key, other->rows->row[j].key) != 0,
                                  "%s.%s", one->path, one->rows->row[k].key);
            }
}
END_TEST

/* ---- what follows from the rows ----------------------------------------------------------------
 */

static char *said_of(const char *key, bool *known)
{
    char *said = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&said, &size);
    *known = settings_explain(key, &quote_section, to);
    fclose(to);
    return said;
}

/* Characters, not bytes. */
static int line_columns(const char *line)
{
    int columns = 0;
    for (; *line && *line != '\n'; line++)
        columns += (*line & 0xc0) != 0x80;
    return columns;
}

static void is_explained(const struct section *section, const struct setting_row *row)
{
    char key[96];
    bool known;
    snprintf(key, sizeof(key), "%s.%s", section->path, row->key);
    char *said = said_of(key, &known);
    char begins[160]; /* lines are wrapped, but not as early as that */
    snprintf(begins, sizeof(begins), "%s\n  %.30s", key, row->text);
    ck_assert_msg(known && strncmp(said, begins, strlen(begins)) == 0,
                  SAY_ROW(section, row, "%s", said));
    for (const char *line = said; *line; line += strcspn(line, "\n") + 1)
        ck_assert_msg(line_columns(line) <= 80, SAY_ROW(section, row, "%s", said));
    free(said);
    said = said_of(row->key, &known);
    ck_assert_msg(known && strstr(said, key), SAY_ROW(section, row, "%s", said));
    free(said);
}

START_TEST(test_each_setting_is_explained_by_its_path_and_by_its_key)
{
    for_each_row(is_explained);
}
END_TEST

START_TEST(test_a_setting_is_explained_as_people_would_ask_for_it)
{
    static const char *const keys[][2] = {
        {"loads.minimum_on", "loads.NAME.minimum_on"},
        {"loads.water-heater.minimum_on", "loads.NAME.minimum_on"},
        {"loads.water-heater.output.address", "loads.NAME.output.address"},
        {"output.address", "loads.NAME.output.address"},
        {"floors.by", "loads.NAME.floors[].by"},
        {"loads.water-heater.floors.by", "loads.NAME.floors[].by"},
        {"groups.limit", "groups.NAME.limit"},
        {"tariff.import.price", "tariff.import[].price"},
    };
    for (size_t k = 0; k < COUNT_OF(keys); k++) {
        bool known;
        char *said = said_of(keys[k][0], &known);
        ck_assert_msg(known && strncmp(said, keys[k][1], strlen(keys[k][1])) == 0, "%s: %s",
                      keys[k][0], said);
        free(said);
    }
}
END_TEST

START_TEST(test_an_unknown_setting_names_the_nearest)
{
    bool known;
    char *said = said_of("loads.minimumon", &known);
    ck_assert(!known);
    ck_assert_str_eq(said,
                     "there is no setting \"loads.minimumon\"; do you mean \"minimum_on\"?\n");
    free(said);
}
END_TEST

START_TEST(test_another_word_for_a_setting_names_the_word_here)
{
    bool known;
    char *said = said_of("loads.min_on", &known);
    ck_assert(!known);
    ck_assert_str_eq(said, "there is no setting \"loads.min_on\"; here that is \"minimum_on\"\n");
    free(said);
}
END_TEST

static char *example(void)
{
    char *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    settings_example(&quote_section, to);
    fclose(to);
    return text;
}

START_TEST(test_the_example_is_accepted_as_it_is)
{
    struct desk desk;
    char *text = example();
    desk_load_text(&desk, text);
    ck_assert_msg(desk.settings != NULL, "%s: %s", desk.troubles.item[0].place,
                  desk.troubles.item[0].text);
    desk_clear(&desk);
    free(text);
}
END_TEST

static char *the_example;

static void stands_in_the_example(const struct section *section, const struct setting_row *row)
{
    char open[80], closed[80];
    snprintf(open, sizeof(open), " %s:", row->key);
    snprintf(closed, sizeof(closed), "#%s:", row->key);
    ck_assert_msg(strstr(the_example, open) || strstr(the_example, closed),
                  SAY_ROW(section, row, "is not in the example"));
}

START_TEST(test_each_setting_stands_in_the_example)
{
    the_example = example();
    for_each_row(stands_in_the_example);
    free(the_example);
}
END_TEST

/* ---- what comes of a house ---------------------------------------------------------------------
 */

START_TEST(test_a_house_becomes_what_its_file_says)
{
    struct desk desk;
    desk_load_text(&desk, house);
    const struct settings *settings = desk.settings;
    ck_assert_ptr_nonnull(settings);
    const struct rules_settings *rules = &settings->rules;
    ck_assert_str_eq(settings->site_name, "Wattle house");
    ck_assert_int_eq(rules->voltage_mv, 230000);
    ck_assert_int_eq(rules->supply_limit_ma, 63000);
    ck_assert_int_eq(rules->zone.standard_offset_s, 10 * 3600);
    ck_assert_int_eq(rules->zone.summer_offset_s, 11 * 3600);
    ck_assert_int_eq(rules->quiet.span[0].from_s, 22 * 3600);
    ck_assert_int_eq(rules->tariff.feed_in_micro, 50000);
    ck_assert_uint_eq(rules->tariff.count, 2);
    ck_assert_uint_eq(rules->tariff.band[1].first_month, 11);
    ck_assert_uint_eq(rules->tariff.band[1].last_month, 3);
    ck_assert_uint_eq(rules->tariff.band[1].hours.span[0].weekdays, 0x1f);
    ck_assert_int_eq(settings->ledger.history_days, 30);
    ck_assert(settings->mqtt.enabled);
    ck_assert_str_eq(settings->mqtt.domain, "homie"); /* the default */
    desk_clear(&desk);
}
END_TEST

START_TEST(test_names_become_places_in_the_house)
{
    struct desk desk;
    static const uint16_t order[] = {1, 4, 0, 2, 3}; /* by priority, equals as they stand */
    desk_load_text(&desk, house);
    const struct settings *settings = desk.settings;
    ck_assert_ptr_nonnull(settings);
    ck_assert_uint_eq(settings->rules.load_count, COUNT_OF(order));
    ck_assert_mem_eq(settings->rules.order, order, sizeof(order));
    ck_assert_ptr_eq(settings->rules.loads, settings->loads);
    ck_assert_uint_eq(settings->meters[0].bus_index, 0);
    ck_assert_uint_eq(settings->meters[1].bus_index, 1);
    ck_assert(!settings->meters[0].sunspec && settings->meters[1].sunspec);
    ck_assert_uint_gt(settings->meters[0].map.point_count, 3);
    ck_assert_uint_eq(settings->meters[2].load_index, 3);
    ck_assert(settings->loads[3].metered && !settings->loads[0].metered);
    ck_assert_uint_eq(settings->outputs[1].bus_index, 1);
    ck_assert_uint_eq(settings->loads[1].group, 0);
    ck_assert_uint_eq(settings->loads[0].group, RULES_NO_GROUP);
    desk_clear(&desk);
}
END_TEST

START_TEST(test_amps_become_watts_by_voltage_and_phases)
{
    struct desk desk;
    desk_load_text(&desk, house);
    const struct load_settings *charger = &desk.settings->loads[1];
    ck_assert_int_eq(charger->power_w, 32 * 3 * 230);
    ck_assert_int_eq(charger->least_w, 6 * 3 * 230);
    ck_assert_int_eq(charger->step_w, 3 * 230); /* 1 A, where least is in amps */
    ck_assert_int_eq(desk.settings->outputs[1].watts_per_amp, 3 * 230);
    ck_assert_int_eq(desk.settings->outputs[1].scale_ma, 100);
    ck_assert_int_eq(desk.settings->loads[2].power_w, 2500); /* the sum of its stages */
    ck_assert_uint_eq(desk.settings->loads[2].stages, 2);
    ck_assert_uint_eq(desk.settings->outputs[2].contactors, 2);
    desk_clear(&desk);
}
END_TEST

START_TEST(test_floors_become_what_they_promise)
{
    struct desk desk;
    desk_load_text(&desk, house);
    const struct load_settings *heater = &desk.settings->loads[0];
    ck_assert_uint_eq(heater->floor_count, 2);
    ck_assert_uint_eq(heater->floor[0].measure, FLOOR_TIME);
    ck_assert_int_eq(heater->floor[0].amount, 3 * MS_PER_HOUR);
    ck_assert_int_eq(heater->floor[0].by_s, 17 * 3600);
    ck_assert_uint_eq(heater->floor[0].weekdays, WEEKDAYS_ALL);
    ck_assert_uint_eq(heater->floor[0].grid, FLOOR_IN_CHEAPEST_HOURS);
    ck_assert_int_eq(heater->floor[0].reserve_ms, 30 * MS_PER_MIN);
    ck_assert_uint_eq(heater->floor[1].every_days, 7);
    ck_assert_int_eq(desk.settings->loads[1].floor[0].amount, 8000000); /* mWh */
    ck_assert_uint_eq(desk.settings->loads[1].floor[0].weekdays, 0x1f);
    ck_assert_uint_eq(heater->hours.count, 2);
    ck_assert_uint_eq(heater->hours.span[1].weekdays, 0x60);
    desk_clear(&desk);
}
END_TEST

START_TEST(test_weekdays_may_be_listed)
{
    struct desk desk;
    char *text = replaced(house, "days: mon-fri", "days: [mon-wed, sat]");
    desk_load_text(&desk, text);
    ck_assert_ptr_nonnull(desk.settings);
    ck_assert_uint_eq(desk.settings->loads[1].floor[0].weekdays, 0x27);
    desk_clear(&desk);
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_default_is_within_its_own_limits,
        test_each_example_is_within_its_own_limits,
        test_each_field_holds_what_its_limits_allow,
        test_each_row_has_its_words,
        test_no_key_stands_twice_in_a_section,
        test_each_setting_is_explained_by_its_path_and_by_its_key,
        test_a_setting_is_explained_as_people_would_ask_for_it,
        test_an_unknown_setting_names_the_nearest,
        test_another_word_for_a_setting_names_the_word_here,
        test_the_example_is_accepted_as_it_is,
        test_each_setting_stands_in_the_example,
        test_a_house_becomes_what_its_file_says,
        test_names_become_places_in_the_house,
        test_amps_become_watts_by_voltage_and_phases,
        test_floors_become_what_they_promise,
        test_weekdays_may_be_listed,
    };
    return suite_run("rows", tests, COUNT_OF(tests));
}
