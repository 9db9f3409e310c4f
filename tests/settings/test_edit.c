/* test_edit.c - a value is changed where it stands, and nothing beside it. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/text.h"
#include "settings/document.h"
#include "settings/edit.h"
#include "settings/settings.h"

enum { FILE_MAX_BYTES = 256 * 1024 };

static char path[64];
static struct trouble trouble;

static void begin(void)
{
    snprintf(path, sizeof(path), "/tmp/sluice-edit-XXXXXX");
    int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    close(fd);
}

static void end(void)
{
    unlink(path);
}

static void write_file(const char *text)
{
    FILE *file = fopen(path, "we");
    ck_assert_ptr_nonnull(file);
    fputs(text, file);
    fclose(file);
}

/* `before` with that value set is `after`. */
static void becomes(const char *before, const char *key, const char *value, const char *after)
{
    struct edit edit;
    write_file(before);
    ck_assert_msg(settings_edit(path, key, value, &edit, &trouble), "%s: %s", trouble.place,
                  trouble.text);
    ck_assert_str_eq(edit.bytes, after);
    ck_assert_uint_eq(edit.size, strlen(after));
    free(edit.bytes);
}

static void is_refused(const char *text, const char *key, const char *value, const char *why)
{
    struct edit edit;
    write_file(text);
    ck_assert_msg(!settings_edit(path, key, value, &edit, &trouble), "%s", edit.bytes);
    ck_assert_ptr_null(edit.bytes);
    ck_assert_msg(strstr(trouble.text, why) != NULL, "%s", trouble.text);
}

START_TEST(test_comments_blanks_and_order_stay)
{
    becomes("# a\na:   # b\n  b:  1 W  # c\n\n  c: 2\n", "a.b", "3.5 kW",
            "# a\na:   # b\n  b:  3.5 kW  # c\n\n  c: 2\n");
    becomes("a: \"x # y\" # z\r\nb: 1\r\n", "a", "q", "a: q # z\r\nb: 1\r\n");
    becomes("a: {b: 'Gr\xc3\xbc\xc3\x9f' , c: 2}\n", "a.c", "3",
            "a: {b: 'Gr\xc3\xbc\xc3\x9f' , c: 3}\n");
    becomes("a:\n  - {b: 1}\n  - b: 2 # two\n    c: 3\n", "a.2.b", "5",
            "a:\n  - {b: 1}\n  - b: 5 # two\n    c: 3\n");
}
END_TEST

START_TEST(test_what_yaml_could_read_as_something_else_is_quoted)
{
    becomes("a: 1\n", "a", "17:00", "a: \"17:00\"\n");
    becomes("a: 1\n", "a", "say \"no\" # now", "a: \"say \\\"no\\\" # now\"\n");
    becomes("a: {b: 1}\n", "a.b", "x, c: 2", "a: {b: \"x, c: 2\"}\n");
    becomes("a: 1\n", "a", "- 1", "a: \"- 1\"\n");
    becomes("a: 1\n", "a", "", "a: \"\"\n");
    becomes("a: [1, 2]\n", "a", "[3, 4]", "a: [3, 4]\n");
}
END_TEST

START_TEST(test_a_key_that_is_not_there_is_added_behind_the_last_of_its_section)
{
    becomes("a:\n  b: 1\n  c:\n    d: 2 # x\ne: 3\n", "a.f", "4",
            "a:\n  b: 1\n  c:\n    d: 2 # x\n  f: 4\ne: 3\n");
    becomes("a:\n  b: 1", "a.c", "2", "a:\n  b: 1\n  c: 2\n");
    becomes("a: {b: [1, 2] } # x\n", "a.c", "2", "a: {b: [1, 2], c: 2 } # x\n");
    becomes("a:\n  b:\n  c: 1\n", "a.b", "2", "a:\n  b: 2\n  c: 1\n");
}
END_TEST

START_TEST(test_what_cannot_be_changed_alone_is_refused)
{
    is_refused("a:\n  b: 1\n", "a", "2", "section of several lines");
    is_refused("a: |\n  long\n  text\nb: 1\n", "a", "2", "several lines");
    is_refused("a: [1, 2]\n", "a", "2", "in brackets");
    is_refused("a: 1\n", "b.c", "2", "is not in the file");
    is_refused("a: [1, 2]\n", "a.3", "2", "is not in the file");
    is_refused("a: &x 1\nb: *x\n", "a", "2", "anchors");
    is_refused("a: 1\n", "a", "2\nb: 3", "one line");
    is_refused("a: 1\n", "a", "[1, 2", "");
    is_refused("a: [1]\n", "a", "[2], b: 3", "");
    is_refused("a: 1\na: 2\n", "a", "3", "twice");
    is_refused("", "a", "3", "is empty");
}
END_TEST

/* ---- every value of the example
 * ------------------------------------------------------------------ */

static char text[FILE_MAX_BYTES];

static void read_example(void)
{
    FILE *file = fopen(CONF_DIR "/sluice.yaml", "re");
    ck_assert_ptr_nonnull(file);
    text[fread(text, 1, sizeof(text) - 1, file)] = '\0';
    fclose(file);
    write_file(text);
}

/* Behind the last line feed before `at`: how much of two texts is alike, from both ends. */
static void assert_one_line_differs(const char *before, const char *after)
{
    size_t same = 0;
    while (before[same] && before[same] == after[same])
        same++;
    size_t a = strlen(before), b = strlen(after);
    while (a > same && b > same && before[a - 1] == after[b - 1]) {
        a--;
        b--;
    }
    ck_assert_ptr_null(memchr(before + same, '\n', a - same));
    ck_assert_ptr_null(memchr(after + same, '\n', b - same));
}

static int changed;

static void change(const char *key)
{
    struct edit edit;
    ck_assert_msg(settings_edit(path, key, "17:00", &edit, &trouble), "%s: %s: %s", key,
                  trouble.place, trouble.text);
    assert_one_line_differs(text, edit.bytes);
    free(edit.bytes);
    changed++;
}

static void change_all(const struct node *node, char *key)
{
    size_t length = strlen(key);
    int place = 1;
    if (node->kind == NODE_TEXT && node->line == node->end_line)
        change(key);
    for (const struct node *child = node->first; child; child = child->next) {
        if (child->key)
            snprintf(key + length, EDIT_KEY_MAX - length, "%s%s", length ? "." : "", child->key);
        else
            snprintf(key + length, EDIT_KEY_MAX - length, ".%d", place++);
        change_all(child, key);
        key[length] = '\0';
    }
}

START_TEST(test_each_value_of_the_example_changes_in_its_line_alone)
{
    struct settings_troubles troubles = {0};
    struct tree tree;
    char key[EDIT_KEY_MAX] = "";
    read_example();
    ck_assert(document_read(path, &tree, &troubles));
    changed = 0;
    change_all(tree.root, key);
    document_free(&tree);
    ck_assert_int_gt(changed, 50);
}
END_TEST

/* ---- what differs
 * -------------------------------------------------------------------------------- */

static void write_down(void *context, const char *key, const char *before, const char *after)
{
    text_add(context, "%s: %s to %s; ", key, before ? before : "-", after ? after : "-");
}

START_TEST(test_what_differs_is_told_key_by_key)
{
    char other[80], buffer[400];
    struct text said = text_in(buffer, sizeof(buffer));
    write_file("a: 1\nb: {c: 2, d: [3, 4]} # x\ne: 5\n");
    snprintf(other, sizeof(other), "%s.other", path);
    ck_assert_int_eq(rename(path, other), 0);
    write_file("b:\n  d: [3]\n  c: 2\na: '1'\ne: {f: 5}\ng: 6\n");
    ck_assert(settings_compare(other, path, write_down, &said, &trouble));
    unlink(other);
    ck_assert_str_eq(buffer, "b.d.2: 4 to -; e: 5 to {f: 5}; g: - to 6; ");
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("edit");
    TCase *tests = tcase_create("edit");
    tcase_add_checked_fixture(tests, begin, end);
    tcase_add_test(tests, test_comments_blanks_and_order_stay);
    tcase_add_test(tests, test_what_yaml_could_read_as_something_else_is_quoted);
    tcase_add_test(tests, test_a_key_that_is_not_there_is_added_behind_the_last_of_its_section);
    tcase_add_test(tests, test_what_cannot_be_changed_alone_is_refused);
    tcase_add_test(tests, test_each_value_of_the_example_changes_in_its_line_alone);
    tcase_add_test(tests, test_what_differs_is_told_key_by_key);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed != 0;
}
