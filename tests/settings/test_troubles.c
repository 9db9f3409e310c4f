/* test_troubles.c - how a trouble is told, whatever it is about. */
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "desk.h"

START_TEST(test_a_long_path_keeps_its_line_and_column)
{
    char folder[] = "/tmp/sluice-settings-XXXXXX", deep[400], path[450];
    struct desk desk;
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(deep, sizeof(deep), "%s/%0200d", folder, 7);
    ck_assert_int_eq(mkdir(deep, 0700), 0);
    snprintf(path, sizeof(path), "%s/sluice.yaml", deep);
    FILE *file = fopen(path, "we");
    ck_assert_ptr_nonnull(file);
    fputs("site:\n  name: &a House\n", file);
    fclose(file);
    desk_load_file(&desk, path);
    ck_assert_int_eq(desk.troubles.count, 1);
    const char *place = desk.troubles.item[0].place;
    ck_assert_str_eq(place + strlen(place) - strlen("sluice.yaml:2:9"), "sluice.yaml:2:9");
    desk_clear(&desk);
    unlink(path);
    rmdir(deep);
    rmdir(folder);
}
END_TEST

START_TEST(test_what_the_engine_cannot_keep_is_said_of_every_load)
{
    char *first = replaced(house, "{amount: 3 h, by", "{amount: 23 h, by");
    char *text = replaced(first, "    power: 1.1 kW\n",
                          "    power: 1.1 kW\n    floors: [{amount: 2 h, by: \"17:00\"}, "
                          "{amount: 24 h, by: \"17:00\"}]\n");
    struct desk desk;
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 2);
    for (int k = 0; k < 2; k++) {
        int line, column, at_line = 0, at_column = 0;
        const char *floor = strstr(text, k == 0 ? "{amount: 23 h" : "{amount: 24 h");
        place_of_offset(text, (size_t)(floor - text), &line, &column);
        place_of_trouble(&desk.troubles.item[k], &at_line, &at_column);
        ck_assert_int_eq(at_line, line);
        ck_assert_int_eq(at_column, column);
    }
    desk_clear(&desk);
    free(text);
    free(first);
}
END_TEST

/* A trouble goes to a terminal, a log and a broker: whole characters, none of control. */
START_TEST(test_what_is_quoted_is_fit_for_a_screen)
{
    char word[256] = "\"\\e[31m";
    for (int k = 0; k < 60; k++)
        strcat(word, "\xc3\xa9");
    strcat(word, "\"");
    char *text = replaced(house, "billing: net", "billing: ");
    char *whole = replaced(text, "billing: ", "billing: @");
    free(text);
    text = replaced(whole, "@", word);
    struct desk desk;
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 1);
    ck_assert_ptr_null(strchr(desk.troubles.item[0].text, '\x1b'));
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "\xc3\xa9...\""));
    desk_clear(&desk);
    free(text);
    free(whole);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_long_path_keeps_its_line_and_column,
        test_what_the_engine_cannot_keep_is_said_of_every_load,
        test_what_is_quoted_is_fit_for_a_screen,
    };
    return suite_run("troubles", tests, COUNT_OF(tests));
}
