/* test_yaml.c - what is no settings file at all, and what YAML must not do to one. */
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "desk.h"

/* One trouble, at this line and column (0: of the whole file), with these words. */
static void refuses(const char *bytes, size_t size, int line, int column, const char *words)
{
    struct desk desk;
    int at_line = 0, at_column = 0;
    desk_load(&desk, bytes, size);
    ck_assert_msg(desk.troubles.count == 1, "%d troubles for \"%s\"; the first: %s",
                  desk.troubles.count, words,
                  desk.troubles.count ? desk.troubles.item[0].text : "none");
    place_of_trouble(&desk.troubles.item[0], &at_line, &at_column);
    ck_assert_msg(strstr(desk.troubles.item[0].text, words) != NULL, "\"%s\" instead of \"%s\"",
                  desk.troubles.item[0].text, words);
    ck_assert_msg(at_line == line && at_column == column, "%s instead of %d:%d",
                  desk.troubles.item[0].place, line, column);
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].place, desk.path));
    desk_clear(&desk);
}

static void refuses_text(const char *text, int line, int column, const char *words)
{
    refuses(text, strlen(text), line, column, words);
}

START_TEST(test_a_good_house_is_accepted)
{
    struct desk desk;
    desk_load_text(&desk, house);
    ck_assert_msg(desk.settings != NULL, "%s: %s", desk.troubles.item[0].place,
                  desk.troubles.item[0].text);
    desk_clear(&desk);
}
END_TEST

START_TEST(test_a_file_that_is_not_there_says_why)
{
    struct desk desk;
    desk_load_file(&desk, "/nowhere/sluice.yaml");
    ck_assert_int_eq(desk.troubles.count, 1);
    ck_assert_str_eq(desk.troubles.item[0].place, "/nowhere/sluice.yaml");
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "No such file"));
    desk_clear(&desk);
    desk_load_file(&desk, "/tmp");
    ck_assert_int_eq(desk.troubles.count, 1);
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "directory"));
    desk_clear(&desk);
}
END_TEST

START_TEST(test_empty_files_are_refused)
{
    refuses_text("", 0, 0, "is empty");
    refuses_text("# nothing but a remark\n", 0, 0, "is empty");
}
END_TEST

START_TEST(test_ten_megabytes_are_refused)
{
    size_t size = 10 << 20;
    char *bytes = malloc(size);
    memset(bytes, '#', size);
    refuses(bytes, size, 0, 0, "larger than 1 MiB");
    free(bytes);
}
END_TEST

START_TEST(test_a_megabyte_of_keys_is_refused_at_once)
{
    enum { KEYS = 60000 };
    char *text = malloc(KEYS * 16), *at = text;
    struct desk desk;
    for (int k = 0; k < KEYS; k++)
        at += sprintf(at, "k%05d: 1\n", k);
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 1);
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "more than 5000 values"));
    desk_clear(&desk);
    free(text);
}
END_TEST

START_TEST(test_binary_is_refused_with_its_offset)
{
    static const char elf[] = "\x7f"
                              "ELF\x02\x01\x01\x00\x00\x00";
    refuses(elf, sizeof(elf) - 1, 0, 0, "NUL at byte 7");
    refuses("site: \x01\n", 8, 0, 0, "at byte 6");
}
END_TEST

START_TEST(test_what_is_not_utf8_is_refused_with_its_offset)
{
    /* RFC 3629: a lone continuation; overlong; a surrogate; beyond U+10FFFF; cut short. */
    refuses_text("site: \x80\n", 0, 0, "not UTF-8 text at byte 6");
    refuses_text("site: \xc0\xaf\n", 0, 0, "not UTF-8 text at byte 6");
    refuses_text("site: \xed\xa0\x80\n", 0, 0, "not UTF-8 text at byte 6");
    refuses_text("site: \xf4\x90\x80\x80\n", 0, 0, "not UTF-8 text at byte 6");
    refuses_text("site: \xe2\x82", 0, 0, "not UTF-8 text at byte 6");
    refuses_text("site: Caf\xe9\n", 0, 0, "not UTF-8 text at byte 9"); /* Latin-1 */
}
END_TEST

START_TEST(test_utf16_is_refused_by_name)
{
    refuses("\xff\xfes\0i\0t\0e\0", 10, 0, 0, "is UTF-16: save it as UTF-8");
    refuses("\xfe\xff\0s\0i\0t\0e", 10, 0, 0, "is UTF-16: save it as UTF-8");
    refuses("s\0i\0t\0e\0", 8, 0, 0, "NUL at byte 1");
}
END_TEST

/* RFC 3629 section 6: a signature at the beginning is to be passed over. */
START_TEST(test_a_utf8_signature_and_crlf_are_no_mistake)
{
    char *text = malloc(2 * strlen(house) + 4), *at = text;
    struct desk desk;
    at += sprintf(at, "\xef\xbb\xbf");
    for (const char *from = house; *from; from++) {
        if (*from == '\n')
            *at++ = '\r';
        *at++ = *from;
    }
    *at = '\0';
    desk_load_text(&desk, text);
    ck_assert_ptr_nonnull(desk.settings);
    ck_assert_str_eq(desk.settings->names[0].title, "Water heater");
    desk_clear(&desk);
    free(text);
}
END_TEST

START_TEST(test_anchors_aliases_tags_and_merge_keys_are_refused)
{
    refuses_text("site: &a {phases: 1}\n", 1, 7, "anchors");
    refuses_text("site:\n  name: &a House\n", 2, 9, "anchors");
    refuses_text("site: *a\n", 1, 7, "aliases");
    refuses_text("site: !!map {phases: 1}\n", 1, 7, "tags");
    refuses_text("site:\n  name: !!str House\n", 2, 9, "tags");
    refuses_text("site:\n  <<: {phases: 1}\n", 2, 3, "merge keys");
    refuses_text("&a site: {}\n", 1, 1, "anchors");
    refuses_text("? [a, b]\n: c\n", 1, 3, "a key must be a word");
}
END_TEST

/* The "billion laughs": ten aliases of ten aliases. It ends at the first anchor. */
START_TEST(test_a_bomb_of_aliases_is_refused_at_its_first_anchor)
{
    refuses_text("a: &a [x, x, x, x, x, x, x, x, x]\n"
                 "b: &b [*a, *a, *a, *a, *a, *a, *a, *a, *a]\n"
                 "c: &c [*b, *b, *b, *b, *b, *b, *b, *b, *b]\n"
                 "d: &d [*c, *c, *c, *c, *c, *c, *c, *c, *c]\n",
                 1, 4, "anchors");
}
END_TEST

START_TEST(test_deep_nesting_is_refused)
{
    char deep[100001];
    memset(deep, '[', 100000);
    deep[100000] = '\0';
    refuses_text(deep, 1, 9, "nested more than 8 deep");
    memset(deep, '{', 100000);
    refuses_text(deep, 1, 2, "a key must be a word");
    refuses_text("a: {b: {c: {d: {e: {f: {g: {h: {i: 1}}}}}}}}\n", 1, 32,
                 "nested more than 8 deep");
}
END_TEST

START_TEST(test_a_second_document_is_refused)
{
    refuses_text("site: {}\n---\nsite: {}\n", 2, 1, "a second document");
}
END_TEST

START_TEST(test_a_tab_that_indents_is_refused_by_name)
{
    refuses_text("site:\n\tname: House\n", 2, 1, "a tab cannot indent");
    refuses_text("# \xc3\xa9\xc3\xa9\nsite:\n  name: House\n\tphases: 1\n", 4, 1,
                 "a tab cannot indent");
}
END_TEST

START_TEST(test_broken_yaml_has_its_place)
{
    refuses_text("site: {name: House\nbuses: {}\n", 2, 6, "not YAML");
    refuses_text("site:\n  name: \"House\n", 3, 1, "not YAML");
    refuses_text("site:\n  name: House\n phases: 1\n", 3, 2, "not YAML");
}
END_TEST

START_TEST(test_a_nul_by_escape_is_refused)
{
    refuses_text("site:\n  name: \"Hou\\0se\"\n", 2, 9, "has a NUL");
}
END_TEST

START_TEST(test_a_duplicate_key_names_both_places)
{
    struct desk desk;
    char *text = replaced(house, "  voltage: 230 V\n", "  voltage: 230 V\n  phases: 3\n");
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 1);
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].place, ":7:3"));
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "second time"));
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "4:3"));
    desk_clear(&desk);
    free(text);
}
END_TEST

START_TEST(test_a_file_that_is_no_map_is_refused)
{
    refuses_text("just words\n", 1, 1, "a group of settings is expected");
    refuses_text("- site\n- loads\n", 1, 1, "a group of settings is expected");
}
END_TEST

START_TEST(test_a_long_path_keeps_its_line_and_column)
{
    char folder[] = "/tmp/sluice-settings-XXXXXX", deep[400], path[450];
    struct desk desk;
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(deep, sizeof(deep), "%s/%0200d", folder, 7);
    ck_assert_int_eq(mkdir(deep, 0700), 0);
    snprintf(path, sizeof(path), "%s/sluice.yaml", deep);
    FILE *file = fopen(path, "we");
    fputs("site:\n  name: &a House\n", file);
    fclose(file);
    desk_load_file(&desk, path);
    const char *place = desk.troubles.item[0].place;
    ck_assert_str_eq(place + strlen(place) - strlen("sluice.yaml:2:9"), "sluice.yaml:2:9");
    desk_clear(&desk);
    unlink(path);
    rmdir(deep);
    rmdir(folder);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_good_house_is_accepted,
        test_a_file_that_is_not_there_says_why,
        test_empty_files_are_refused,
        test_ten_megabytes_are_refused,
        test_a_megabyte_of_keys_is_refused_at_once,
        test_binary_is_refused_with_its_offset,
        test_what_is_not_utf8_is_refused_with_its_offset,
        test_utf16_is_refused_by_name,
        test_a_utf8_signature_and_crlf_are_no_mistake,
        test_anchors_aliases_tags_and_merge_keys_are_refused,
        test_a_bomb_of_aliases_is_refused_at_its_first_anchor,
        test_deep_nesting_is_refused,
        test_a_second_document_is_refused,
        test_a_tab_that_indents_is_refused_by_name,
        test_broken_yaml_has_its_place,
        test_a_nul_by_escape_is_refused,
        test_a_duplicate_key_names_both_places,
        test_a_file_that_is_no_map_is_refused,
        test_a_long_path_keeps_its_line_and_column,
    };
    return suite_run("yaml", tests, COUNT_OF(tests));
}
