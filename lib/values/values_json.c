/* values_json.c - everything that is known now, as one JSON object on one line. */
#include <cjson/cJSON.h>

#include "values/values.h"

static cJSON *write_group(const struct value_group *group, const struct place *at);

static cJSON *write_moment(const struct place *at, int64_t wall_ms)
{
    char buffer[40];
    struct text text = text_in(buffer, sizeof(buffer));
    value_write_moment(&at->view->settings->rules.zone, (struct wall){wall_ms}, &text);
    return cJSON_CreateString(buffer);
}

static cJSON *write_word(const char *words, int64_t number)
{
    char buffer[40];
    struct text text = text_in(buffer, sizeof(buffer));
    value_write_word(words, number, &text);
    return cJSON_CreateString(buffer);
}

static cJSON *write_row(const struct value_row *row, const struct place *at)
{
    struct value value = {.known = false};
    if (row->kind == VALUE_GROUP)
        return write_group(row->group, at);
    row->get(at, &value);
    if (!value.known)
        return cJSON_CreateNull();
    switch (row->kind) {
    case VALUE_TEXT:
        return cJSON_CreateString(value.text);
    case VALUE_WORD:
        return write_word(row->words, value.number);
    case VALUE_YES_NO:
        return cJSON_CreateBool(value.number != 0);
    case VALUE_MOMENT:
        return write_moment(at, value.number);
    default:
        return cJSON_CreateNumber((double)value.number);
    }
}

static cJSON *write_object(const struct value_group *group, const struct place *at)
{
    cJSON *object = cJSON_CreateObject();
    for (int k = 0; k < group->row_count; k++)
        if (group->rows[k].key)
            cJSON_AddItemToObject(object, group->rows[k].key, write_row(&group->rows[k], at));
    return object;
}

static cJSON *write_group(const struct value_group *group, const struct place *at)
{
    int count = group->count ? group->count(at) : 1;
    bool list = group->form != GROUP_OBJECT;
    if (count < 0 || (!list && count == 0))
        return cJSON_CreateNull();
    if (!list)
        return write_object(group, at);
    cJSON *array = cJSON_CreateArray();
    for (int k = 0; k < count; k++) {
        struct place member = place_in(at, k);
        cJSON_AddItemToArray(array, group->form == GROUP_LIST
                                        ? write_object(group, &member)
                                        : write_row(&group->rows[0], &member));
    }
    return array;
}

char *values_json(const struct values_view *view)
{
    const struct place top = {view, -1, -1};
    cJSON *root = write_object(&values_of_site, &top);
    char *text = cJSON_PrintUnformatted(root);
    cJSON_Delete(root);
    return text;
}
