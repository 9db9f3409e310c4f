/* test_lost_keys.c - the shipped house with one byte wrong: it is refused with a place, or
 * it is accepted with every key still there. A setting that somebody wrote is never lost
 * without a word.
 *
 * A sample of the bytes, and with CASES=all each. The comments are taken out first; a changed
 * byte in them would show nothing. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"
#include "settings/document.h"

/* Lines without what stands behind a "#"; no value of the file has one in it. */
static char *conf_without_comments(void)
{
    enum { MOST = 65536 };
    char line[256], *text = calloc(1, MOST);
    FILE *file = fopen(CONF_DIR "/sluice.yaml", "re");
    ck_assert_ptr_nonnull(file);
    while (fgets(line, sizeof(line), file)) {
        size_t length = strcspn(line, "#\n");
        while (length > 0 && line[length - 1] == ' ')
            length--;
        if (length > 0)
            sprintf(text + strlen(text), "%.*s\n", (int)length, line);
    }
    fclose(file);
    return text;
}

static int count_keys_below(const struct node *node)
{
    int count = 0;
    for (; node; node = node->next)
        count += (node->key != NULL) + count_keys_below(node->first);
    return count;
}

static int count_keys(const char *path)
{
    struct settings_troubles troubles = {0};
    struct tree tree;
    ck_assert(document_read(path, &tree, &troubles));
    int count = count_keys_below(tree.root);
    document_free(&tree);
    return count;
}

static void expect_troubles(const struct settings_troubles *troubles, const char *path,
                            const char *text)
{
    ck_assert_msg(troubles->count > 0, "refused without a word:\n%s", text);
    for (int k = 0; k < troubles->count; k++) {
        const struct trouble *trouble = &troubles->item[k];
        ck_assert_msg(trouble->text[0] != '\0', "an empty message for:\n%s", text);
        ck_assert_msg(strncmp(trouble->place, path, strlen(path)) == 0, "\"%s\" is no place in %s",
                      trouble->place, path);
    }
}

/* True: accepted. */
static bool try(const char *text, int keys)
{
    struct settings_troubles troubles = {0};
    const char *path = file_of(text);
    struct settings *settings = settings_load(path, MAPS_DIR, &with_quote, &troubles);
    if (!settings) {
        expect_troubles(&troubles, path, text);
        settings_troubles_free(&troubles);
        return false;
    }
    ck_assert_int_eq(troubles.count, 0);
    int left = count_keys(path);
    ck_assert_msg(left == keys, "accepted with %d of %d keys:\n%s", left, keys, text);
    char *description = described(settings);
    ck_assert_uint_gt(strlen(description), 100);
    free(description);
    settings_free(settings);
    return true;
}

static void expect_some_of_both(int accepted, int tried)
{
    ck_assert_int_gt(accepted, tried / 100);
    ck_assert_int_lt(accepted, tried * 9 / 10);
}

START_TEST(test_each_byte_left_out_is_noticed_or_harmless)
{
    char *text = conf_without_comments(), *changed = strdup(text);
    int keys = count_keys(file_of(text)), accepted = 0;
    size_t length = strlen(text);
    ck_assert(try(text, keys));
    for (size_t at = 0; at < length; at += cases_step()) {
        memcpy(changed + at, text + at + 1, length - at);
        accepted += try(changed, keys);
        memcpy(changed + at, text + at, length - at + 1);
    }
    expect_some_of_both(accepted, (int)(length / cases_step()));
    free(changed);
    free(text);
}
END_TEST

/* A "#" makes the rest of a line a comment: that is what it is for. */
static char other_byte(uint64_t *seed, char byte)
{
    static const char telling[] = " \n:-,[]{}\"'&*!|>%@`?0123456789.abcxyzLWkh\t\\/~";
    char other;
    do
        other = seeded_next(seed) % 4 ? telling[seeded_next(seed) % (sizeof(telling) - 1)]
                                      : (char)seeded_between(seed, 1, 255);
    while (other == byte || other == '#');
    return other;
}

START_TEST(test_each_byte_changed_is_noticed_or_harmless)
{
    char *text = conf_without_comments(), *changed = strdup(text);
    int keys = count_keys(file_of(text)), accepted = 0;
    uint64_t seed = (uint64_t)_i + 1;
    size_t length = strlen(text);
    for (size_t at = (size_t)_i; at < length; at += cases_step()) {
        changed[at] = other_byte(&seed, text[at]);
        accepted += try(changed, keys);
        changed[at] = text[at];
    }
    expect_some_of_both(accepted, (int)(length / cases_step()));
    free(changed);
    free(text);
}
END_TEST

int main(void)
{
    enum { SEEDS = 2 };
    Suite *suite = suite_create("lost keys");
    TCase *cases = tcase_create("lost keys");
    tcase_set_timeout(cases, 600);
    tcase_add_test(cases, test_each_byte_left_out_is_noticed_or_harmless);
    tcase_add_loop_test(cases, test_each_byte_changed_is_noticed_or_harmless, 0, SEEDS);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
