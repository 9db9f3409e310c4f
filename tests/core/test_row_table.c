/* test_row_table.c - the settings of several kinds in one table. */
#include <stdlib.h>

#include "core/row_table.h"
#include "suite.h"

enum { ROOM = 3 };

static struct setting_row room[ROOM];
static struct row_table table;

static void begin(void)
{
    table = (struct row_table){.row = room, .most = ROOM};
}

static const struct setting_row address = {
    .key = "address", .kind = SETTING_QUANTITY, .unit = QUANTITY_COUNT, .offset = 8, .size = 2};

START_TEST(test_a_row_of_two_kinds_stands_once_and_goes_with_both)
{
    begin();
    ck_assert(row_table_add(&table, &address, 1));
    ck_assert(row_table_add(&table, &address, 3));
    ck_assert_uint_eq(table.count, 1);
    ck_assert_uint_eq(table.row[0].only, 1u << 1 | 1u << 3);
}
END_TEST

static void assert_refused(const struct setting_row *other)
{
    begin();
    ck_assert(row_table_add(&table, &address, 1));
    ck_assert(!row_table_add(&table, other, 3));
    ck_assert_uint_eq(table.count, 1);
    ck_assert_uint_eq(table.row[0].only, 1u << 1);
}

START_TEST(test_a_key_that_means_another_field_is_refused)
{
    struct setting_row other = address;
    other.offset = 16;
    assert_refused(&other);
    other = address;
    other.size = 4;
    assert_refused(&other);
    other = address;
    other.kind = SETTING_TEXT;
    assert_refused(&other);
    other = address;
    other.unit = QUANTITY_POWER_W;
    assert_refused(&other);
}
END_TEST

START_TEST(test_a_row_without_room_is_refused)
{
    static const char *const keys[ROOM] = {"a", "b", "c"};
    struct setting_row row = address;
    begin();
    for (int k = 0; k < ROOM; k++) {
        row.key = keys[k];
        ck_assert(row_table_add(&table, &row, -1));
        ck_assert_uint_eq(table.row[k].only, 0);
    }
    ck_assert(!row_table_add(&table, &address, -1));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_row_of_two_kinds_stands_once_and_goes_with_both,
        test_a_key_that_means_another_field_is_refused,
        test_a_row_without_room_is_refused,
    };
    return suite_run("rows", tests, COUNT_OF(tests));
}
