/* values.c - where a group of the rows stands. */
#include "values/values.h"

#include <string.h>

static const struct value_group *find_in(const struct value_group *group, const char *key,
                                         size_t length)
{
    for (int k = 0; k < group->row_count; k++) {
        const struct value_row *row = &group->rows[k];
        if (row->group && strncmp(row->key, key, length) == 0 && row->key[length] == '\0')
            return row->group;
    }
    return NULL;
}

const struct value_group *values_group(const char *path)
{
    const struct value_group *group = &values_of_site;
    for (; group && *path; path += *path == '.') {
        size_t length = strcspn(path, ".");
        group = find_in(group, path, length);
        path += length;
    }
    return group;
}
