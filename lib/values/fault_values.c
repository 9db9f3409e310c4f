/* fault_values.c - what is wrong now: known or inferred, of the house or of one load. */
#include <string.h>

#include "getter.h"

static const struct fault *fault(const struct place *at)
{
    return &at->view->faults[at->outer];
}

static int count_faults(const struct place *at)
{
    return at->view->fault_count;
}

static bool is_inferred(const struct place *at)
{
    return fault(at)->finding.kind != FINDING_NONE;
}

GET_TEXT(id, fault(at)->id);
GET_NUMBER(inferred, is_inferred(at));
GET_TEXT(text, fault(at)->text);
GET_NUMBER(seen, fault(at)->finding.seen);
GET_IF(since, fault(at)->finding.since.wall_trusted, fault(at)->finding.since.wall.ms);
GET_NUMBER(age, mono_since_ms(at->view->now.mono, fault(at)->finding.since.mono));
GET_IF(sure, is_inferred(at) && fault(at)->finding.sure_permille > 0,
       fault_sure_percent(&fault(at)->finding));

GET(load_name)
{
    if (fault(at)->load != FAULT_OF_SITE)
        set_text(value, at->view->settings->names[fault(at)->load].name);
}

GET(about)
{
    set_text(value, fault(at)->name[0] ? fault(at)->name : fault_id_name(fault(at)->id));
}

GET(first)
{
    struct text text = text_of(value);
    fault_write_first(fault(at), &text);
}

static const struct value_row fault_rows[] = {
    {.key = "id", .kind = VALUE_TEXT, .get = get_id},
    {.key = "load", .kind = VALUE_TEXT, .get = get_load_name},
    {.key = "about", .kind = VALUE_TEXT, .get = get_about},
    {.key = "inferred", .kind = VALUE_YES_NO, .get = get_inferred},
    {.key = "text", .kind = VALUE_TEXT, .get = get_text},
    {.key = "sure_percent", .kind = VALUE_PERCENT, .get = get_sure},
    {.key = "seen", .kind = VALUE_COUNT, .get = get_seen},
    {.key = "since", .kind = VALUE_MOMENT, .get = get_since},
    {.key = "age_ms", .kind = VALUE_TIME_MS, .get = get_age},
    {.key = "first", .kind = VALUE_TEXT, .get = get_first},
};
const struct value_group values_of_fault = {
    .form = GROUP_LIST, .count = count_faults, VALUE_ROWS(fault_rows)};

/* ---- as one text, for the broker ---------------------------------------------------------- */

/* "2: ...", the first in words; `load`: of that one alone, or FAULT_OF_SITE for all. */
static void write_faults(const struct values_view *view, uint16_t load, struct text *text)
{
    const struct fault *first = NULL;
    int count = 0;
    for (int k = 0; k < view->fault_count; k++) {
        if (load != FAULT_OF_SITE && view->faults[k].load != load)
            continue;
        first = first ? first : &view->faults[k];
        count++;
    }
    text_add(text, first ? "%d: " : "none", count);
    if (first && load == FAULT_OF_SITE)
        fault_write_line(first, text);
    else if (first)
        text_add(text, "%s", first->text);
}

static void set_faults(const struct place *at, uint16_t load, struct value *value)
{
    char whole[FAULT_NAME_MAX + FAULT_TEXT_MAX + 16];
    struct text text = text_in(whole, sizeof(whole)), cut = text_of(value);
    write_faults(at->view, load, &text);
    text_add(&cut, strlen(whole) < MQTT_VALUE_MAX ? "%s" : "%.156s...", whole);
}

void get_faults_of_site(const struct place *at, struct value *value)
{
    set_faults(at, FAULT_OF_SITE, value);
}

void get_faults_of_load(const struct place *at, struct value *value)
{
    set_faults(at, (uint16_t)at->outer, value);
}
