/* test_yaml.c - files that are no settings, in every way that YAML and bytes allow, and
 * what YAML's own types would make of words that mean something else here. */
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../core/suite.h"
#include "rig.h"

/* Exactly this is wrong with the file as a whole. */
static void expect_whole(const char *path, const char *says)
{
    struct settings_troubles troubles = {0};
    struct settings *settings = settings_load(path, MAPS_DIR, &with_quote, &troubles);
    ck_assert_ptr_null(settings);
    ck_assert_int_eq(troubles.count, 1);
    ck_assert_str_eq(troubles.item[0].text, says);
    ck_assert_str_eq(troubles.item[0].place, path);
    settings_troubles_free(&troubles);
}

static void expect_bytes(const char *bytes, size_t size, const char *says)
{
    expect_whole(file_of_bytes(bytes, size), says);
}

/* ---- the file ---------------------------------------------------------------------------------
 */

START_TEST(test_an_empty_file_is_said_to_be_empty)
{
    expect_bytes("", 0, "is empty");
    expect_bytes("\n\n", 2, "is empty");
    expect_bytes("# site:\n", 8, "is empty");
    expect_bytes("\xef\xbb\xbf", 3, "is empty");
}
END_TEST

START_TEST(test_what_cannot_be_read_says_why)
{
    expect_whole("/nowhere/sluice.yaml", "cannot be read: No such file or directory");
    expect_whole("/tmp", "cannot be read: Is a directory");
}
END_TEST

START_TEST(test_a_file_without_permission_says_so)
{
    const char *path = file_of(small_house);
    ck_assert_int_eq(chmod(path, 0), 0);
    bool all_powerful = geteuid() == 0;
    if (all_powerful)
        ck_assert_int_eq(seteuid(65534), 0);
    expect_whole(path, "cannot be read: Permission denied");
    if (all_powerful)
        ck_assert_int_eq(seteuid(0), 0);
}
END_TEST

START_TEST(test_a_huge_file_is_refused_before_it_is_parsed)
{
    enum { SIZE = 10 * 1024 * 1024 };
    char *bytes = malloc(SIZE);
    memset(bytes, '#', SIZE);
    expect_bytes(bytes, SIZE, "is larger than 1 MiB: this is no settings file");
    memset(bytes, '[', SIZE);
    expect_bytes(bytes, SIZE, "is larger than 1 MiB: this is no settings file");
    expect_whole("/dev/zero", "is larger than 1 MiB: this is no settings file");
    free(bytes);
}
END_TEST

START_TEST(test_binary_is_no_text)
{
    static const char elf[] = "\x7f"
                              "ELF\2\1\1\0\0";
    expect_bytes(elf, sizeof(elf), "has a NUL at byte 7: this is no text file");
    expect_bytes("site:\n  name: a\0b\n", 18, "has a NUL at byte 15: this is no text file");
}
END_TEST

START_TEST(test_a_nul_that_is_written_as_an_escape_is_refused_too)
{
    char *text = edited(small_house, "phases: 1", "phases: 1\n  name: \"a\\0b\"");
    expect_only(text, "\"a\\0b\"", "has a NUL in it");
    free(text);
}
END_TEST

/* RFC 3629 section 3 names what is not UTF-8: bytes that never occur, overlong forms,
 * surrogates, numbers past U+10FFFF. */
START_TEST(test_what_is_not_utf_8_names_the_byte)
{
    static const struct {
        const char *bytes, *says;
    } rows[] = {
        {"site: \xff", "is not UTF-8 text at byte 6: invalid leading UTF-8 octet"},
        {"site: caf\xe9 au lait", "is not UTF-8 text at byte 10: invalid trailing UTF-8 octet"},
        {"site: \xc0\xaf", "is not UTF-8 text at byte 6: invalid length of a UTF-8 sequence"},
        {"site: \xed\xa0\x80", "is not UTF-8 text at byte 6: invalid Unicode character"},
        {"site: \xf4\x90\x80\x80", "is not UTF-8 text at byte 6: invalid Unicode character"},
        {"site: \xe2\x82", "is not UTF-8 text at byte 6: incomplete UTF-8 octet sequence"},
        {"site: \x01", "is not UTF-8 text at byte 6: control characters are not allowed"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++)
        expect_bytes(rows[k].bytes, strlen(rows[k].bytes), rows[k].says);
}
END_TEST

START_TEST(test_utf_16_is_named_and_utf_8_with_a_mark_is_read)
{
    expect_bytes("\xff\xfes\0i\0", 6, "is UTF-16: save it as UTF-8");
    expect_bytes("\xfe\xff\0s\0i", 6, "is UTF-16: save it as UTF-8");
    char *marked = edited(small_house, "site:", "\xef\xbb\xbfsite:");
    settings_free(load_good(marked));
    free(marked);
}
END_TEST

START_TEST(test_lines_may_end_as_other_systems_end_them)
{
    size_t used = 0;
    char *text = malloc(2 * strlen(small_house) + 1);
    for (const char *c = small_house; *c; c++) {
        if (*c == '\n')
            text[used++] = '\r';
        text[used++] = *c;
    }
    text[used] = '\0';
    struct settings *settings = load_good(text);
    ck_assert_str_eq(settings->timezone, "Australia/Sydney");
    ck_assert_str_eq(settings->mqtt.host, "localhost");
    settings_free(settings);
    char *wrong = edited(text, "63 A", "63");
    expect_only(wrong, "63\r", "supply_limit: 63 has no unit: write a current, such as 16 A");
    free(wrong);
    free(text);
}
END_TEST

START_TEST(test_text_in_other_scripts_is_kept_and_counted_in_characters)
{
    char *text =
        edited(small_house, "{amount: 3 h, by", "{measure: \xc3\xbc\xe6\xb0\xb4, amount: 3 h, by");
    expect_only(text, "\xc3\xbc",
                "measure: \"\xc3\xbc\xe6\xb0\xb4\" is not one of the choices; write time, energy "
                "or satisfied");
    free(text);
    text = edited(small_house, "{amount: 3 h", "{\"\xe6\xb0\xb4\": 1, amount: 3");
    struct settings_troubles troubles;
    ck_assert_ptr_null(load_text(text, &troubles));
    ck_assert_int_eq(troubles.count, 2);
    /* the second stands nine characters and eleven bytes behind the brace's column */
    ck_assert_str_eq(strchr(troubles.item[0].place, ':'), ":22:10");
    ck_assert_str_eq(strchr(troubles.item[1].place, ':'), ":22:26");
    settings_troubles_free(&troubles);
    free(text);
    text = edited(small_house, "phases: 1",
                  "phases: 1\n  name: Haus am See \xe2\x80\x93 \xe6\xb0\xb4");
    struct settings *settings = load_good(text);
    ck_assert_str_eq(settings->site_name, "Haus am See \xe2\x80\x93 \xe6\xb0\xb4");
    settings_free(settings);
    free(text);
}
END_TEST

/* ---- what YAML can do and settings never need
 * ---------------------------------------------------- */

START_TEST(test_anchors_aliases_tags_and_merge_keys_are_refused_by_name)
{
    static const struct mistake rows[] = {
        {"  phases: 1", "  phases: &p 1", "&p", "anchors (&) are not used here: write it out"},
        {"  phases: 1", "  phases: *p", "*p", "aliases (*) are not used here: write it out"},
        {"  phases: 1", "  phases: !!int 1", "!!int", "tags (!) are not used here"},
        {"  phases: 1", "  phases: !local 1", "!local", "tags (!) are not used here"},
        {"  shed: {limit", "  shed: &s {limit", "&s {",
         "anchors (&) and tags (!) are not used here"},
        {"  shed: {limit", "  shed: !!map {limit", "!!map",
         "anchors (&) and tags (!) are not used here"},
        {"      - {amount", "      - &f {amount", "&f",
         "anchors (&) and tags (!) are not used here"},
        {"  shed: {limit", "  shed: {<<: x, limit", "<<",
         "merge keys (<<) are not used here: write it out"},
    };
    expect_mistakes(rows, COUNT_OF(rows));
}
END_TEST

/* The "billion laughs": each list holds the one before nine times; it is stopped at the
 * first anchor. */
START_TEST(test_a_bomb_of_aliases_does_not_go_off)
{
    char bomb[4096] = "a: &a [l, l, l, l, l, l, l, l, l]\n", line[128];
    for (char c = 'b'; c <= 'i'; c++) {
        char before = (char)(c - 1);
        snprintf(line, sizeof(line), "%c: &%c [*%c, *%c, *%c, *%c, *%c, *%c, *%c, *%c, *%c]\n", c,
                 c, before, before, before, before, before, before, before, before, before);
        strcat(bomb, line);
    }
    expect_only(bomb, "&a", "anchors (&) and tags (!) are not used here");
}
END_TEST

START_TEST(test_one_file_is_one_document)
{
    char *marked = edited(small_house, "site:", "%YAML 1.1\n---\nsite:");
    settings_free(load_good(marked));
    free(marked);
    char *two = edited(small_house, "mqtt:", "---\nmqtt:");
    expect_only(two, "---", "a second document begins here: one file, one document");
    free(two);
}
END_TEST

START_TEST(test_depth_and_number_are_limited)
{
    enum { MANY = 200000 };
    struct settings_troubles troubles;
    expect_only("a: [[[[[[[[1]]]]]]]]\n", "[1]", "is nested more than 8 deep: no setting is");
    char *deep = malloc(MANY + 1);
    memset(deep, '[', MANY);
    deep[MANY] = '\0';
    ck_assert_ptr_null(load_text(deep, &troubles));
    ck_assert_int_eq(troubles.count, 1);
    ck_assert_str_eq(strchr(troubles.item[0].place, ':'), ":1:9");
    settings_troubles_free(&troubles);
    free(deep);
    char *wide = calloc(1, 4 * MANY);
    strcpy(wide, "a: [");
    for (int k = 0; k < MANY; k++)
        memcpy(wide + 4 + 2 * k, "1,", 2);
    ck_assert_ptr_null(load_text(wide, &troubles));
    ck_assert_int_eq(troubles.count, 1);
    ck_assert_str_eq(troubles.item[0].text, "has more than 5000 values: this is no settings file");
    settings_troubles_free(&troubles);
    free(wide);
}
END_TEST

START_TEST(test_a_tab_cannot_indent)
{
    char *text = edited(small_house, "  phases: 1", "\tphases: 1");
    expect_only(text, "\tphases", "a tab cannot indent: use spaces");
    free(text);
    /* between words it is harmless */
    text = edited(small_house, "phases: 1", "phases:\t1\t# one");
    settings_free(load_good(text));
    free(text);
}
END_TEST

START_TEST(test_what_yaml_cannot_read_has_its_place)
{
    static const struct {
        const char *text, *place, *begins;
    } rows[] = {
        {"site:\n  a: b: c\n", ":2:7", "a second colon in one line: a value that has a colon"},
        {"site:\n  a: 1\n b: 2\n", ":3:2", "\"b\" is indented by 1 space, and \"a\" above it"},
        {"site: @x\n", ":1:7", "a value that begins with \"@\" goes in quotes"},
        {"%x\n", ":1:3", "not YAML: "},
        {"? [a, b]\n: c\n", ":1:3", "a key must be a word"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        struct settings_troubles troubles;
        ck_assert_ptr_null(load_text(rows[k].text, &troubles));
        ck_assert_int_eq(troubles.count, 1);
        ck_assert_str_eq(strchr(troubles.item[0].place, ':'), rows[k].place);
        ck_assert_msg(strncmp(troubles.item[0].text, rows[k].begins, strlen(rows[k].begins)) == 0,
                      "%s: %s", rows[k].text, troubles.item[0].text);
        settings_troubles_free(&troubles);
    }
}
END_TEST

START_TEST(test_a_file_that_is_no_group_of_settings_is_said_so)
{
    expect_only("just words\n", "just", "a group of settings is expected here, not a single value");
    expect_only("- site\n- loads\n", "- site", "a group of settings is expected here, not a list");
}
END_TEST

/* ---- words that YAML's own types would turn into something else
 * ------------------------------------ */

/* YAML 1.1 takes no, off, on, yes and y for truth values, and 17:30 for a number to the
 * base of 60 (yaml.org/type/bool.html, yaml.org/type/int.html). Here the setting decides. */
START_TEST(test_a_word_means_what_its_setting_says)
{
    static const struct {
        const char *written, *kept;
    } names[] = {
        {"no", "no"},     {"on", "on"},        {"NO", "NO"},       {"null", "null"},
        {"~", "~"},       {"1e3", "1e3"},      {"0x1F", "0x1F"},   {"12:30:45", "12:30:45"},
        {"true", "true"}, {"y", "y"},          {"1_000", "1_000"}, {"2026-07-01", "2026-07-01"},
        {".inf", ".inf"}, {"'it''s'", "it's"}, {"a # b", "a"},     {"a#b", "a#b"},
    };
    for (size_t k = 0; k < COUNT_OF(names); k++) {
        char line[96];
        snprintf(line, sizeof(line), "  phases: 1\n  name: %s", names[k].written);
        char *text = edited(small_house, "  phases: 1", line);
        struct settings *settings = load_good(text);
        ck_assert_str_eq(settings->site_name, names[k].kept);
        settings_free(settings);
        free(text);
    }
}
END_TEST

START_TEST(test_off_and_on_are_states_where_states_are_wanted_and_no_answers_elsewhere)
{
    static const struct mistake rows[] = {
        {"  phases: 1", "  phases: 1\n  battery: off", "off", "battery: is yes or no, not \"off\""},
        {"address: 0", "address: 0, fail_state: no", "no}",
         "fail_state: \"no\" is not one of the choices; write off or on"},
        {"address: 0", "address: 0, read_back: Yes", "Yes", "read_back: is yes or no, not \"Yes\""},
    };
    static const struct mistake accepted[] = {{"address: 0", "address: 0, fail_state: on", 0, 0},
                                              {"address: 0", "address: 0, fail_state: off", 0, 0},
                                              {"address: 0", "address: 0, read_back: no", 0, 0}};
    expect_mistakes(rows, COUNT_OF(rows));
    expect_accepted(accepted, COUNT_OF(accepted));
}
END_TEST

START_TEST(test_a_clock_time_needs_no_quotes_and_a_number_no_base)
{
    static const struct {
        const char *written;
        int32_t by_s;
    } times[] = {{"17:00", 61200}, {"\"17:00\"", 61200}, {"6:30", 23400},
                 {"01:10", 4200},  {"17:00:30", 61230},  {"24:00", 86400}};
    for (size_t k = 0; k < COUNT_OF(times); k++) {
        char line[64];
        snprintf(line, sizeof(line), "by: %s", times[k].written);
        char *text = edited(small_house, "by: \"17:00\"", line);
        struct settings *settings = load_good(text);
        ck_assert_int_eq(settings->loads[0].floor[0].by_s, times[k].by_s);
        settings_free(settings);
        free(text);
    }
    static const struct mistake rows[] = {
        {"by: \"17:00\"", "by: 1700", "1700}",
         "by: 1700 is a whole number; expected a time of day, such as 17:00"},
        {"unit: 2,", "unit: 0x02,", "0x02",
         "unit: 0x02: \"x02\" is no unit known here; expected a whole number, such as 4"},
        {"unit: 2,", "unit: 1:40,", "1:40",
         "unit: 1:40 is a time of day; expected a whole number, such as 4"},
        {"unit: 2,", "unit: 1e1,", "1e1",
         "unit: 1e1: \"e1\" is no unit known here; expected a whole number, such as 4"},
    };
    expect_mistakes(rows, COUNT_OF(rows));
    char *text = edited(small_house, "unit: 2,", "unit: 010,");
    struct settings *settings = load_good(text);
    ck_assert_uint_eq(settings->meters[0].unit, 10); /* no octal */
    settings_free(settings);
    free(text);
}
END_TEST

START_TEST(test_a_text_of_several_lines_is_no_value)
{
    static const struct mistake rows[] = {
        {"  phases: 1", "  phases: 1\n  name: |\n    a\n    b", "|",
         "name: has a control character in it"},
        {"thermostat: yes", "thermostat: yes\n      no", "yes\n",
         "thermostat: is yes or no, not \"yes no\""},
    };
    expect_mistakes(rows, COUNT_OF(rows));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_an_empty_file_is_said_to_be_empty,
        test_what_cannot_be_read_says_why,
        test_a_file_without_permission_says_so,
        test_a_huge_file_is_refused_before_it_is_parsed,
        test_binary_is_no_text,
        test_a_nul_that_is_written_as_an_escape_is_refused_too,
        test_what_is_not_utf_8_names_the_byte,
        test_utf_16_is_named_and_utf_8_with_a_mark_is_read,
        test_lines_may_end_as_other_systems_end_them,
        test_text_in_other_scripts_is_kept_and_counted_in_characters,
        test_anchors_aliases_tags_and_merge_keys_are_refused_by_name,
        test_a_bomb_of_aliases_does_not_go_off,
        test_one_file_is_one_document,
        test_depth_and_number_are_limited,
        test_a_tab_cannot_indent,
        test_what_yaml_cannot_read_has_its_place,
        test_a_file_that_is_no_group_of_settings_is_said_so,
        test_a_word_means_what_its_setting_says,
        test_off_and_on_are_states_where_states_are_wanted_and_no_answers_elsewhere,
        test_a_clock_time_needs_no_quotes_and_a_number_no_base,
        test_a_text_of_several_lines_is_no_value,
    };
    return suite_run("yaml", tests, COUNT_OF(tests));
}
