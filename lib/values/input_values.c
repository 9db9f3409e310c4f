/* input_values.c - the values of the inputs: what each shows, and since when that is so. */
#include "getter.h"

static const struct input_settings *input(const struct place *at)
{
    return &at->view->settings->inputs[at->outer];
}

static const struct input_view *sensed(const struct place *at)
{
    return &at->view->inputs[at->outer];
}

static int count_inputs(const struct place *at)
{
    return at->view->settings->input_count;
}

GET_TEXT(name, input(at)->name);
GET_TEXT(role, input_role_word(input(at)->role));
GET_TEXT(of_load, input(at)->load[0] ? input(at)->load : "all");
GET_NUMBER(state, sensed(at)->known ? 1 + sensed(at)->closed : 0);
GET_IF(age, sensed(at)->read, mono_since_ms(at->view->now.mono, sensed(at)->taken));
GET_TEXT(detail, sensed(at)->detail);

static void name_input(const struct place *at, struct mqtt_property *property)
{
    const char *word = input(at)->name;
    snprintf(property->node, sizeof(property->node), "input-%.*s", SETTINGS_NAME_MAX - 1, word);
    snprintf(property->node_name, sizeof(property->node_name), "Input %s", word);
}

static const struct value_row input_rows[] = {
    {.key = "name", .kind = VALUE_TEXT, .get = get_name},
    {.key = "role", .kind = VALUE_TEXT, .get = get_role},
    {.key = "load", .kind = VALUE_TEXT, .get = get_of_load},
    {.key = "state",
     .kind = VALUE_WORD,
     .words = "unknown,open,closed",
     .get = get_state,
     .topic = "state",
     .name = "What it shows"},
    {.key = "age_ms", .kind = VALUE_TIME_MS, .get = get_age},
    {.key = "detail", .kind = VALUE_TEXT, .get = get_detail},
};
const struct value_group values_of_input = {.form = GROUP_LIST,
                                            .count = count_inputs,
                                            VALUE_ROWS(input_rows),
                                            .node = name_input,
                                            .node_pattern = "input-NAME"};
