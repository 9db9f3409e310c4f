/* outcome.c - the words of each outcome in one table. */
#include "outcome.h"

#include <string.h>

static const struct {
    const char *name, *words;
} table[STEP_OUTCOMES] = {
    [STEP_OPEN] = {"open", "not done"},
    [STEP_PASS] = {"pass", "pass"},
    [STEP_FAIL] = {"fail", "FAIL"},
    [STEP_SKIPPED] = {"skipped", "skipped"},
    [STEP_NEEDS_PERSON] = {"needs-person", "skipped: needs a person"},
    [STEP_NOT_NOW] = {"not-now", "not possible now"},
};

const char *step_outcome_name(enum step_outcome outcome)
{
    return table[outcome].name;
}

const char *step_outcome_words(enum step_outcome outcome)
{
    return table[outcome].words;
}

enum step_outcome step_outcome_named(const char *name)
{
    for (int k = STEP_PASS; k < STEP_OUTCOMES; k++)
        if (strcmp(table[k].name, name) == 0)
            return (enum step_outcome)k;
    return STEP_OPEN;
}

static void add_to(char *buffer, size_t size, const char *before, const char *format,
                   va_list arguments)
{
    size_t used = strlen(buffer);
    struct text text = text_in(buffer + used, size - used);
    text_add(&text, "%s", used > 0 ? before : "");
    text_add_list(&text, format, arguments);
}

void step_end(struct step_result *result, enum step_outcome outcome, const char *format, ...)
{
    va_list arguments;
    result->outcome = outcome;
    result->evidence[0] = '\0';
    va_start(arguments, format);
    add_to(result->evidence, sizeof(result->evidence), "", format, arguments);
    va_end(arguments);
}

void step_add(struct step_result *result, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_to(result->evidence, sizeof(result->evidence), "; ", format, arguments);
    va_end(arguments);
}

void step_caution(struct step_result *result, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_to(result->caution, sizeof(result->caution), " ", format, arguments);
    va_end(arguments);
}
