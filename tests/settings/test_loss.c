/* test_loss.c - a settings file that was cut off while it was written is not taken for a
 * smaller house. */
#include <stdio.h>
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

/* The first settings in the README, without the indentation of their list. */
static char *readme_house(void)
{
    static char text[8192], line[512];
    size_t used = 0;
    bool inside = false;
    FILE *file = fopen(README, "re");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof(line), file)) {
        const char *at = line + strspn(line, " ");
        if (strncmp(at, "```", 3) == 0) {
            if (inside)
                break;
            inside = strncmp(at, "```yaml", 7) == 0;
        } else if (inside) {
            used += (size_t)snprintf(text + used, sizeof(text) - used, "%s", line + 3);
        }
    }
    fclose(file);
    ck_assert(strstr(text, "loads:\n") != NULL && strstr(text, "every_days") != NULL);
    return text;
}

/* How many beginnings of `text` (those at a line's end, and of the others so many as cases are
 * taken) are settings that are accepted; each of them must look cut beside `before`, at least
 * where loads, floors or meters differ. */
static int try_each_beginning(const struct settings *before, const char *text, bool all)
{
    struct settings_troubles troubles = {0};
    int accepted = 0;
    for (size_t size = 0; size < strlen(text); size++) {
        if (size % cases_step() != 0 && text[size - 1] != '\n')
            continue;
        char why[512];
        struct text said = text_in(why, sizeof(why));
        struct settings *after =
            settings_load(file_of_bytes(text, size), MAPS_DIR, &with_quote, &troubles);
        settings_troubles_free(&troubles);
        if (!after)
            continue;
        bool differs = after->rules.load_count != before->rules.load_count ||
                       after->meter_count != before->meter_count;
        for (uint16_t i = 0; !differs && i < before->rules.load_count; i++)
            differs = after->loads[i].floor_count != before->loads[i].floor_count;
        if (all || differs)
            ck_assert_msg(settings_look_cut(before, after, &said), "cut at byte %zu", size);
        accepted++;
        settings_free(after);
    }
    return accepted;
}

START_TEST(test_no_cut_off_beginning_of_the_house_in_the_readme_passes_for_a_whole_one)
{
    const char *text = readme_house();
    struct settings *before = load_good(text);
    ck_assert_int_ge(try_each_beginning(before, text, true), 2);
    settings_free(before);
}
END_TEST

START_TEST(test_no_cut_off_beginning_of_an_edited_house_loses_a_load_a_floor_or_a_meter)
{
    const char *text = readme_house();
    struct settings *before = load_good(text);
    char *changed = edited(text, "supply_limit: 63 A", "supply_limit: 80 A");
    ck_assert_int_ge(try_each_beginning(before, changed, false), 2);
    free(changed);
    settings_free(before);
    before = load_good(small_house);
    changed = edited(small_house, "3.6 kW", "2.4 kW");
    ck_assert_int_ge(try_each_beginning(before, changed, false), 4);
    free(changed);
    settings_free(before);
}
END_TEST

/* What is said of the small house with one change; NULL: nothing. */
static const char *said_of(const char *text)
{
    static char why[512];
    struct text said = text_in(why, sizeof(why));
    struct settings *before = load_good(small_house), *after = load_good(text);
    bool cut = settings_look_cut(before, after, &said);
    settings_free(before);
    settings_free(after);
    return cut ? why : NULL;
}

static void expect_said(const char *find, const char *write, const char *says)
{
    char *text = edited(small_house, find, write);
    const char *said = said_of(text);
    if (says)
        ck_assert_str_eq(said, says);
    else
        ck_assert_ptr_null(said);
    free(text);
}

START_TEST(test_what_is_lost_is_named)
{
    const char *pump = strstr(small_house, "  pump:\n"), *car = strstr(small_house, "  car:\n");
    char *section = strndup(pump, (size_t)(car - pump));
    expect_said(section, "", "load pump is gone: renamed or removed, or is the file cut off?");
    expect_said("  pump:\n", "  pool:\n",
                "load pump is gone: renamed or removed, or is the file cut off?");
    expect_said("    floors:\n      - {amount: 3 h, by: \"17:00\"}\n", "",
                "a floor of heater is gone: renamed or removed, or is the file cut off?");
    expect_said("  grid: {role", "  mains: {role",
                "meter grid is gone: renamed or removed, or is the file cut off?");
    expect_said("mqtt:\n  host: localhost\n", "",
                "this is the file in force without its end: is it cut off?");
    expect_said("thermostat: yes\n", "thermostat: yes\n    minimum_on: 20 min\n", NULL);
    expect_said("  pump:\n",
                "  well:\n    power: 1 kW\n    output: {bus: board, unit: 10, address: 2}\n"
                "  pump:\n",
                NULL);
    free(section);
    section = strndup(pump, strlen(pump));
    expect_said(section, "",
                "load pump and 1 more are gone: renamed or removed, or is the file cut off?");
    free(section);
}
END_TEST

START_TEST(test_a_last_line_without_an_end_is_told_unless_the_file_is_the_same)
{
    char *open = edited(small_house, "host: localhost\n", "host: localhost1");
    ck_assert_str_eq(said_of(open), "its last line has no line feed: is it cut off?");
    struct settings *settings = load_good(open), *again = load_good(open);
    char why[512];
    struct text said = text_in(why, sizeof(why));
    ck_assert(!settings_look_cut(settings, again, &said));
    char *words = described(settings);
    ck_assert_msg(strstr(words, "last line of the file has no line feed") != NULL, "%s", words);
    free(words);
    settings_free(settings);
    settings_free(again);
    free(open);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_no_cut_off_beginning_of_the_house_in_the_readme_passes_for_a_whole_one,
        test_no_cut_off_beginning_of_an_edited_house_loses_a_load_a_floor_or_a_meter,
        test_what_is_lost_is_named,
        test_a_last_line_without_an_end_is_told_unless_the_file_is_the_same,
    };
    return suite_run("loss", tests, COUNT_OF(tests));
}
