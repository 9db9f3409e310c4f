/* getter.h - what the tables of values are written with. Inside this room only. */
#ifndef SLUICE_VALUES_GETTER_H
#define SLUICE_VALUES_GETTER_H

#include "values/values.h"

enum { MJ_PER_MWH = 3600 };

/* The groups that a file of their own has. */
extern const struct value_group values_of_load, values_of_floor, values_of_heat;
extern const struct value_group values_of_start, values_of_stop;
extern const struct value_group values_of_bus, values_of_gateway, values_of_input, values_of_sensor;
extern const struct value_group values_of_fault;

/* All that is wrong with the house, with the load: as one text. */
void get_faults_of_site(const struct place *at, struct value *value);
void get_faults_of_load(const struct place *at, struct value *value);

/* GET(progress) { ... set(value, percent); }, where it takes more than an expression. The others
 * are one: GET_NUMBER(level, load(at)->level_w); (the declaration at the end of these takes the
 * semicolon). */
#define GET(name) static void get_##name(const struct place *at, struct value *value)
#define GET_NUMBER(name, number)                                                                   \
    GET(name)                                                                                      \
    {                                                                                              \
        set(value, number);                                                                        \
    }                                                                                              \
    struct place
#define GET_IF(name, known, number)                                                                \
    GET(name)                                                                                      \
    {                                                                                              \
        set_if(value, known, number);                                                              \
    }                                                                                              \
    struct place
#define GET_TEXT(name, text)                                                                       \
    GET(name)                                                                                      \
    {                                                                                              \
        set_text(value, text);                                                                     \
    }                                                                                              \
    struct place

static inline void set_if(struct value *value, bool known, int64_t number)
{
    value->known = known;
    value->number = number;
}

static inline void set(struct value *value, int64_t number)
{
    set_if(value, true, number);
}

static inline void set_text(struct value *value, const char *text)
{
    value->known = true;
    value->text = text;
}

/* To be written into; known from now on. */
static inline struct text text_of(struct value *value)
{
    set_text(value, value->buffer);
    return text_in(value->buffer, sizeof(value->buffer));
}

static inline const struct load_memory *load(const struct place *at)
{
    return &at->view->memory->loads[at->outer];
}

static inline const struct load_settings *settings_of(const struct place *at)
{
    return &at->view->settings->loads[at->outer];
}

#endif
