/* own.h - settings that only one kind of output has, set by the key of their row, since only
 * that kind's file knows where they are. */
#ifndef SLUICE_TESTS_OUTPUT_OWN_H
#define SLUICE_TESTS_OUTPUT_OWN_H

#include <check.h>
#include <string.h>

#include "output/output.h"

static inline const struct setting_row *own_row(const char *key)
{
    for (size_t k = 0; k < output_setting_rows.count; k++)
        if (strcmp(output_setting_rows.row[k].key, key) == 0)
            return &output_setting_rows.row[k];
    ck_abort_msg("no output has a setting %s", key);
}

static inline void own_text(struct output_settings *settings, const char *key, const char *text)
{
    const struct setting_row *row = own_row(key);
    ck_assert_uint_lt(strlen(text), row->size);
    strcpy((char *)settings + row->offset, text);
}

/* Little-endian, as all machines that run these tests. */
static inline void own_number(struct output_settings *settings, const char *key, uint32_t number)
{
    const struct setting_row *row = own_row(key);
    memcpy((char *)settings + row->offset, &number, row->size);
}

#endif
