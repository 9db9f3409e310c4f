/* test_conf.c - the shipped example: it is accepted as it stands, and it leaves no
 * setting out. */
#include <stdio.h>
#include <string.h>

#include "../core/suite.h"
#include "rig.h"
#include "settings/sections.h"

static struct settings *load_conf(void)
{
    struct settings_troubles troubles = {0};
    struct settings *settings =
        settings_load(CONF_DIR "/sluice.yaml", MAPS_DIR, &with_quote, &troubles);
    for (int k = 0; k < troubles.count; k++)
        fprintf(stderr, "%s: %s\n", troubles.item[k].place, troubles.item[k].text);
    ck_assert_ptr_nonnull(settings);
    ck_assert_int_eq(troubles.count, 0);
    return settings;
}

static const struct load_settings *load_named(const struct settings *settings, const char *name)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (strcmp(settings->names[i].name, name) == 0)
            return &settings->loads[i];
    ck_abort_msg("there is no load %s", name);
    return NULL;
}

START_TEST(test_the_shipped_house_is_accepted_as_it_stands)
{
    settings_free(load_conf());
}
END_TEST

START_TEST(test_the_quote_is_read_by_whoever_asks_for_it_and_passed_over_by_others)
{
    struct settings_troubles troubles = {0};
    char text[8192];
    snprintf(text, sizeof(text), "%squote: {years: some}\n", small_house);
    struct settings *settings = settings_load(file_of(text), MAPS_DIR, NULL, &troubles);
    ck_assert_ptr_nonnull(settings);
    settings_free(settings);
    ck_assert_ptr_null(settings_load(file_of(text), MAPS_DIR, &with_quote, &troubles));
    ck_assert_int_eq(troubles.count, 1);
    settings_troubles_free(&troubles);
}
END_TEST

/* `section` and all that is in it, two blanks further to the right, below "quote:". */
static void move_under_quote(const char *text, const char *section, char moved[static 16384])
{
    size_t used = 0, length = strlen(section);
    bool within = false;
    for (int pass = 0; pass < 2; pass++) {
        if (pass == 1)
            used += (size_t)snprintf(moved + used, 16384 - used, "quote:\n");
        for (const char *line = text; *line; line += strcspn(line, "\n") + 1) {
            if (*line != ' ' && *line != '\n')
                within = strncmp(line, section, length) == 0 && line[length] == ':';
            if (within == (pass == 1))
                used += (size_t)snprintf(moved + used, 16384 - used, "%s%.*s\n", pass ? "  " : "",
                                         (int)strcspn(line, "\n"), line);
        }
    }
}

/* The daemon reads nothing of the quote: a section that slipped into it is missing, and said so. */
START_TEST(test_a_section_that_slipped_into_the_quote_is_missed_by_others)
{
    static const char *const sections[] = {"site", "buses", "meters", "loads"};
    char moved[16384], says[64];
    for (size_t k = 0; k < sizeof(sections) / sizeof(sections[0]); k++) {
        struct settings_troubles troubles = {0};
        move_under_quote(small_house, sections[k], moved);
        ck_assert_msg(!settings_load(file_of(moved), MAPS_DIR, NULL, &troubles), "%s", sections[k]);
        snprintf(says, sizeof(says), "the section %s is missing", sections[k]);
        ck_assert_str_eq(troubles.item[0].text, says);
        settings_troubles_free(&troubles);
    }
}
END_TEST

static void write_example(FILE *to, const void *context)
{
    settings_example(context, to);
}

static char *conf_text(void)
{
    enum { MOST = 65536 };
    char *text = calloc(1, MOST);
    FILE *file = fopen(CONF_DIR "/sluice.yaml", "re");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_lt(fread(text, 1, MOST - 1, file), MOST - 1);
    fclose(file);
    return text;
}

/* Nobody edits it: `sluice example > conf/sluice.yaml` after a row has changed. */
START_TEST(test_the_shipped_house_is_what_the_rows_write)
{
    char *shipped = conf_text(), *written = written_by(write_example, &quote_section);
    ck_assert_str_eq(shipped, written);
    free(shipped);
    free(written);
}
END_TEST

START_TEST(test_the_shipped_maps_are_found_beside_the_shipped_house)
{
    struct settings_troubles troubles = {0};
    struct settings *settings =
        settings_load(CONF_DIR "/sluice.yaml", NULL, &with_quote, &troubles);
    ck_assert_ptr_nonnull(settings);
    settings_free(settings);
}
END_TEST

START_TEST(test_the_water_heater_has_three_hours_by_five_and_is_hot_once_a_week)
{
    struct settings *settings = load_conf();
    const struct load_settings *heater = load_named(settings, "water-heater");
    ck_assert_uint_eq(settings->rules.phase_count, 1);
    ck_assert(heater->thermostat);
    ck_assert_uint_eq(heater->floor_count, 2);
    ck_assert_uint_eq(heater->floor[0].measure, FLOOR_TIME);
    ck_assert_int_eq(heater->floor[0].amount, 3 * MS_PER_HOUR);
    ck_assert_int_eq(heater->floor[0].by_s, 17 * 3600);
    ck_assert_uint_eq(heater->floor[1].measure, FLOOR_SATISFIED);
    ck_assert_uint_eq(heater->floor[1].every_days, 7);
    settings_free(settings);
}
END_TEST

START_TEST(test_the_charger_is_a_set_point_of_six_amps_at_least)
{
    struct settings *settings = load_conf();
    const struct load_settings *charger = load_named(settings, "charger");
    ck_assert_uint_eq(charger->kind, LOAD_SETPOINT);
    ck_assert_int_eq(charger->least_w, 6 * 230);
    ck_assert_int_eq(charger->power_w, 16 * 230);
    ck_assert_int_eq(charger->step_w, 230);
    settings_free(settings);
}
END_TEST

/* ---- every setting is there --------------------------------------------------------------------
 */

/* The section a line of the file is in, by its indentation, comment marks left out. */
struct place {
    char key[8][64];
    int indent[8];
    int depth;
};

/* "   #  key: value" -> where the key stands and what it is; false: no such line. A mark
 * with one blank after it begins prose. */
static bool take_key(const char *line, int *indent, char key[static 64])
{
    const char *at = line;
    *indent = 0;
    bool marked = false;
    for (; *at == ' ' || *at == '#' || (*at == '-' && at[1] == ' '); at++) {
        if (*at == '#' && (marked || (at[1] == ' ' && at[2] != ' ')))
            return false;
        if (*at == '#')
            marked = true; /* stands for no column of its own */
        else
            ++*indent;
    }
    size_t length = strspn(at, "abcdefghijklmnopqrstuvwxyz0123456789_-");
    if (length == 0 || length > 63 || at[length] != ':')
        return false;
    memcpy(key, at, length);
    key[length] = '\0';
    return true;
}

static void enter(struct place *place, int indent, const char *key)
{
    while (place->depth > 0 && place->indent[place->depth - 1] >= indent)
        place->depth--;
    ck_assert_int_lt(place->depth, 8);
    strcpy(place->key[place->depth], key);
    place->indent[place->depth++] = indent;
}

/* Whether the place is one of that section: "loads.NAME.floors[]". */
static bool is_in(const struct place *place, const char *path)
{
    int k = 0;
    for (; *path && k < place->depth - 1; k++) {
        size_t length = strcspn(path, ".[");
        bool any = length == 4 && strncmp(path, "NAME", 4) == 0;
        if (!any && (strlen(place->key[k]) != length || strncmp(path, place->key[k], length) != 0))
            return false;
        path += strcspn(path, ".");
        path += *path == '.';
    }
    return *path == '\0' && k == place->depth - 1;
}

/* "{key: value, key: value}" behind a key that opens a section of its own. */
static bool flow_has(const char *line, const char *key)
{
    char first[80], later[80];
    snprintf(first, sizeof(first), "{%s: ", key);
    snprintf(later, sizeof(later), ", %s: ", key);
    return strstr(line, first) || strstr(line, later);
}

static bool conf_has(FILE *file, const char *path, const char *key)
{
    struct place place = {.depth = 0};
    char line[256], found[64];
    int indent;
    rewind(file);
    while (fgets(line, sizeof(line), file)) {
        bool named = take_key(line, &indent, found);
        if (named)
            enter(&place, indent, found);
        if (named && strcmp(found, key) == 0 && is_in(&place, path))
            return true;
        struct place inside = place;
        enter(&inside, named ? indent + 1 : indent, "in braces");
        if (flow_has(line, key) && is_in(&inside, path))
            return true;
    }
    return false;
}

START_TEST(test_every_setting_stands_in_the_shipped_house_in_its_section)
{
    FILE *file = fopen(CONF_DIR "/sluice.yaml", "re");
    int missing = 0;
    ck_assert_ptr_nonnull(file);
    const struct section *section;
    for (int s = 0; (section = section_at(&quote_section, s)); s++)
        for (size_t k = 0; k < section->rows->count; k++)
            if (!conf_has(file, section->path, section->rows->row[k].key)) {
                fprintf(stderr, "%s.%s is not there\n", section->path, section->rows->row[k].key);
                missing++;
            }
    fclose(file);
    ck_assert_int_eq(missing, 0);
}
END_TEST

START_TEST(test_a_setting_that_is_not_there_would_be_missed)
{
    FILE *file = fopen(CONF_DIR "/sluice.yaml", "re");
    ck_assert_ptr_nonnull(file);
    ck_assert(conf_has(file, "site", "voltage"));
    ck_assert(!conf_has(file, "tariff", "voltage"));
    ck_assert(!conf_has(file, "site", "volts"));
    ck_assert(conf_has(file, "loads.NAME.floors[]", "every_days"));
    ck_assert(!conf_has(file, "loads.NAME", "every_days"));
    fclose(file);
}
END_TEST

/* ---- what is commented out would be accepted too
 * -------------------------------------------------- */

/* Takes the mark off the lines that begin with `indent` blanks and "#key:", and off the
 * deeper ones that follow. */
static char *without_marks(const char *text, int indent, const char *key)
{
    char *changed = strdup(text), head[80];
    snprintf(head, sizeof(head), "\n%*s#%s:", indent, "", key);
    char *at = strstr(changed, head);
    ck_assert_msg(at != NULL, "#%s: is not there", key);
    do {
        char *mark = at + 1 + indent;
        memmove(mark, mark + 1, strlen(mark));
        at = strchr(mark, '\n');
    } while (at && strspn(at + 1, " ") == (size_t)indent && at[1 + indent] == '#' &&
             strncmp(at + 2 + indent, "  ", 2) == 0);
    return changed;
}

START_TEST(test_each_load_that_is_commented_out_is_accepted_when_it_is_not)
{
    static const char *const names[] = {"shed-heater", "heat-pump", "towel-rail", "fountain"};
    char *text = conf_text();
    for (size_t k = 0; k < COUNT_OF(names); k++) {
        char *changed = without_marks(text, 2, names[k]);
        struct settings *settings = load_good(changed);
        load_named(settings, names[k]);
        settings_free(settings);
        free(changed);
    }
    free(text);
}
END_TEST

/* The changes that the comments tell one to make. */
START_TEST(test_what_the_comments_tell_to_change_is_accepted)
{
    static const char *const changes[][3] = {
        {"battery: no", "battery: yes", "battery"},
        {"", "", "pool-meter"},
        {"phases: 1\n", "phases: 3\n", "billing"},
        {"tls: no", "tls: yes", "ca_file"},
        {"fail_state: off", "fail_state: on", NULL},
        {"start_fraction: 60 %", "start_fraction: derived", NULL},
        {"", "", "user"},
        {"", "", "feed_in_bands"},
        {"", "", "demand"},
        {"", "", "controlled"},
    };
    char *text = conf_text();
    for (size_t k = 0; k < COUNT_OF(changes); k++) {
        char *changed = edited(text, changes[k][0], changes[k][1]), *whole = changed;
        if (changes[k][2]) {
            whole = without_marks(changed, 2, changes[k][2]);
            free(changed);
        }
        settings_free(load_good(whole));
        free(whole);
    }
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_the_shipped_house_is_accepted_as_it_stands,
        test_the_quote_is_read_by_whoever_asks_for_it_and_passed_over_by_others,
        test_a_section_that_slipped_into_the_quote_is_missed_by_others,
        test_the_shipped_house_is_what_the_rows_write,
        test_the_shipped_maps_are_found_beside_the_shipped_house,
        test_the_water_heater_has_three_hours_by_five_and_is_hot_once_a_week,
        test_the_charger_is_a_set_point_of_six_amps_at_least,
        test_every_setting_stands_in_the_shipped_house_in_its_section,
        test_a_setting_that_is_not_there_would_be_missed,
        test_each_load_that_is_commented_out_is_accepted_when_it_is_not,
        test_what_the_comments_tell_to_change_is_accepted,
    };
    return suite_run("conf", tests, COUNT_OF(tests));
}
