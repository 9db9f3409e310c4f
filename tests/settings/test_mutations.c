/* test_mutations.c - the shipped file, spoilt at random, always in the same way.
 *
 * Whatever comes of it, it is refused with places in order, or accepted and can be
 * described; nothing crashes (this runs under the sanitizers too). And a key that was
 * changed is never passed over in silence. */
#include <string.h>

#include "desk.h"
#include "settings/sections.h"

/* ---- whatever happens -------------------------------------------------------------------------
 */

static void spoil(char *text, size_t *size, size_t room, uint64_t *seed)
{
    static const char odd[] = "{}[]:,-#&*!|>'\"%@`~?\t\n \r\\0x\x80\xff\xc3\xef\xbb\xbf";
    int64_t at = seeded_between(seed, 0, (int64_t)*size - 1);
    int64_t length = seeded_between(seed, 1, 40);
    if (length > (int64_t)*size - at)
        length = (int64_t)*size - at;
    switch (seeded_between(seed, 0, 4)) {
    case 0: /* another byte */
        text[at] = odd[seeded_between(seed, 0, (int64_t)sizeof(odd) - 2)];
        break;
    case 1: /* any byte */
        text[at] = (char)seeded_between(seed, 0, 255);
        break;
    case 2: /* something is missing */
        memmove(text + at, text + at + length, *size - (size_t)(at + length));
        *size -= (size_t)length;
        break;
    case 3: /* something is there twice */
        if (*size + (size_t)length > room)
            break;
        memmove(text + at + length, text + at, *size - (size_t)at);
        *size += (size_t)length;
        break;
    default: /* the rest is missing */
        if (seeded_between(seed, 0, 9) == 0)
            *size = (size_t)at + 1;
    }
}

static void judge(struct desk *desk)
{
    int line = 0, column = 0;
    for (int k = 0; k < desk->troubles.count; k++) {
        const struct trouble *trouble = &desk->troubles.item[k];
        int last_line = line, last_column = column;
        ck_assert_str_ne(trouble->text, "");
        if (strncmp(trouble->place, desk->path, strlen(desk->path)) != 0)
            continue; /* of a map */
        if (place_of_trouble(trouble, &line, &column))
            ck_assert_msg(line > last_line || (line == last_line && column >= last_column),
                          "%s is not in order", trouble->place);
    }
    if (desk->settings) {
        char *said = NULL;
        size_t size = 0;
        FILE *to = open_memstream(&said, &size);
        settings_describe(desk->settings, to);
        fclose(to);
        ck_assert_uint_gt(size, 0);
        free(said);
    }
}

START_TEST(test_a_spoilt_file_is_refused_or_means_something)
{
    enum { SEEDS = 1500, ROOM = 32768 };
    char *good = read_whole(CONF_DIR "/sluice.yaml"), *text = malloc(ROOM);
    int refused = 0;
    for (uint64_t number = 1; number <= SEEDS; number += cases_step()) {
        uint64_t seed = number;
        size_t size = strlen(good);
        struct desk desk;
        memcpy(text, good, size);
        for (int64_t times = seeded_between(&seed, 1, 5); times > 0 && size > 1; times--)
            spoil(text, &size, ROOM, &seed);
        desk_load(&desk, text, size);
        judge(&desk);
        refused += desk.settings == NULL;
        desk_clear(&desk);
    }
    /* More than half of that file is remarks, in which nearly anything goes. */
    int tried = SEEDS / (int)cases_step();
    ck_assert_int_gt(refused, tried / 4);
    ck_assert_int_lt(refused, tried);
    free(text);
    free(good);
}
END_TEST

/* ---- changed keys -----------------------------------------------------------------------------
 */

static bool is_any_key(const char *word, size_t length)
{
    static const char *const own[] = {"site",  "tariff", "buses",   "meters", "groups",
                                      "loads", "mqtt",   "storage", "output", "floors"};
    for (size_t k = 0; k < COUNT_OF(own); k++)
        if (strlen(own[k]) == length && strncmp(own[k], word, length) == 0)
            return true;
    const struct section *section;
    for (int s = 0; (section = section_at(&quote_section, s)); s++)
        for (size_t k = 0; k < section->rows->count; k++) {
            const char *key = section->rows->row[k].key;
            if (strlen(key) == length && strncmp(key, word, length) == 0)
                return true;
        }
    return false;
}

/* "grid" is a key of a floor, and what the meter is called here. */
static bool is_name_of_meter(const char *at)
{
    return strncmp(at, "grid:\n", 6) == 0 || strncmp(at, "grid: {", 7) == 0;
}

/* The next key of a setting from `at` on, outside of remarks and quotes, or NULL. */
static const char *next_key(const char *at, size_t *length)
{
    while (*at) {
        if (*at == '#' || *at == '"') {
            at = *at == '#' ? strchr(at, '\n') : strchr(at + 1, '"') + 1;
            continue;
        }
        *length = strspn(at, "abcdefghijklmnopqrstuvwxyz0123456789_-");
        if (*length > 0 && at[*length] == ':' && strchr(" \n", at[*length + 1]) &&
            is_any_key(at, *length) && !is_name_of_meter(at))
            return at;
        at += *length > 0 ? *length : 1;
    }
    return NULL;
}

static void change_key(const char *text, const char *key, size_t length, uint64_t *seed)
{
    struct desk desk;
    char word[64], *changed = malloc(strlen(text) + 8);
    int line, column, at_line = 0, at_column = 0;
    snprintf(word, sizeof(word), "%.*s", (int)length, key);
    size_t at = (size_t)seeded_between(seed, 0, (int64_t)length - 1);
    if (length > 2 && seeded_between(seed, 0, 1))
        memmove(word + at, word + at + 1, length - at); /* a letter is missing */
    else
        word[at] = (char)seeded_between(seed, 'a', 'z');
    if (is_any_key(word, strlen(word))) {
        free(changed);
        return;
    }
    sprintf(changed, "%.*s%s%s", (int)(key - text), text, word, key + length);
    place_of_offset(changed, (size_t)(key - text), &line, &column);
    desk_load_text(&desk, changed);
    ck_assert_msg(desk.settings == NULL, "\"%s\" instead of \"%.*s\" is accepted", word,
                  (int)length, key);
    bool said = false;
    for (int k = 0; k < desk.troubles.count && !said; k++)
        said = place_of_trouble(&desk.troubles.item[k], &at_line, &at_column) && at_line == line &&
               at_column == column && strstr(desk.troubles.item[k].text, word) != NULL;
    ck_assert_msg(said, "nothing is said of \"%s\" at %d:%d", word, line, column);
    desk_clear(&desk);
    free(changed);
}

static int change_each_key(const char *text, uint64_t seed)
{
    size_t length = 0;
    int count = 0, changes = cases_step() == 1 ? 4 : 1;
    for (const char *key = next_key(text, &length); key; key = next_key(key + length, &length)) {
        for (int times = 0; times < changes; times++)
            change_key(text, key, length, &seed);
        count++;
    }
    return count;
}

START_TEST(test_a_changed_key_is_never_passed_over)
{
    char *text = read_whole(CONF_DIR "/sluice.yaml");
    ck_assert_int_gt(change_each_key(text, 1), 100);
    ck_assert_int_gt(change_each_key(house, 2), 60);
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_spoilt_file_is_refused_or_means_something,
        test_a_changed_key_is_never_passed_over,
    };
    return suite_run("mutations", tests, COUNT_OF(tests));
}
