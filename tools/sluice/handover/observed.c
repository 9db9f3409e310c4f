/* observed.c - measured beside stated: what shows that the house was wired as the settings say,
 * as far as anything does. */
#include "observed.h"

#include <stdlib.h>
#include <string.h>

#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "sluice/page/show.h"

static bool is_of(const cJSON *status, const struct settings *settings)
{
    return cJSON_IsArray(get(status, "loads")) && is(status, "site", settings->site_name);
}

void observed_ask(struct observed_now *observed, const char *socket,
                  const struct settings *settings)
{
    struct text why = text_in(observed->why, sizeof(observed->why));
    struct trouble trouble;
    char *answer = control_ask(socket, "status", &trouble);
    observed->status = answer ? cJSON_Parse(answer) : NULL;
    free(answer);
    if (!observed->status) {
        text_add(&why, "sluiced did not answer");
    } else if (!is_of(observed->status, settings)) {
        text_add(&why, "the sluiced that answered runs another house, \"%.60s\"",
                 words(observed->status, "site"));
        observed_free(observed);
    }
}

void observed_free(struct observed_now *observed)
{
    cJSON_Delete(observed->status);
    observed->status = NULL;
}

static const char *write_power(char *buffer, size_t size, const cJSON *object, const char *key)
{
    struct text text = text_in(buffer, size);
    int64_t power_w;
    if (number(object, key, &power_w))
        show_power(&text, power_w);
    else
        text_add(&text, "not known");
    return buffer;
}

static void tell_load(const cJSON *load, struct paper *paper)
{
    char power[40], starts[40];
    struct text text = text_in(starts, sizeof(starts));
    int64_t count;
    bool measured = yes(load, "power_measured");
    if (number(get(load, "total"), "starts", &count))
        show_count(&text, count);
    bool known = is(load, "output_is", "on") || is(load, "output_is", "off");
    paper_row(paper, (const char *const[]){
                         words(load, "title"), known ? words(load, "output_is") : "not known",
                         measured ? write_power(power, sizeof(power), load, "power_w")
                                  : "not yet measured",
                         starts, words(load, "reason"), NULL});
}

static void tell_meters(const struct observed_now *observed, struct paper *paper)
{
    const cJSON *meter;
    cJSON_ArrayForEach(meter, get(observed->status, "meters"))
    {
        char age[40];
        struct text text = text_in(age, sizeof(age));
        int64_t age_ms;
        if (number(meter, "age_ms", &age_ms))
            show_age(&text, age_ms);
        paper_item(paper, "Meter %s: %s%s%s.", words(meter, "name"), words(meter, "outcome"),
                   text.used ? ", last good reading " : ", never read", age);
    }
}

static void tell_troubles(const struct observed_now *observed, struct paper *paper)
{
    const cJSON *trouble, *troubles = get(observed->status, "troubles");
    cJSON_ArrayForEach(trouble, troubles)
    {
        paper_item(paper, "Trouble: %s", cJSON_IsString(trouble) ? trouble->valuestring : "");
    }
    if (cJSON_GetArraySize(troubles) == 0)
        paper_item(paper, "sluiced reports no trouble; that alone does not show that the water "
                          "is hot.");
    if (is(get(observed->status, "settings"), "in_force", "last-accepted"))
        paper_item(paper, "The settings in force are those last accepted, not the file below.");
}

void observed_tell(const struct observed_now *observed, struct paper *paper)
{
    paper_heading(paper, "As the daemon sees it");
    if (!observed->status) {
        paper_say(paper,
                  "Not known: %s. Measured powers, states of outputs and troubles are not "
                  "part of this page.",
                  observed->why);
        return;
    }
    paper_say(paper, "At %s, sluiced %s:", words(observed->status, "time"),
              words(observed->status, "version"));
    paper_table_begin(paper, (const char *const[]){"load", "output", "power when on, measured",
                                                   "starts so far", "reason now", NULL});
    const cJSON *load;
    cJSON_ArrayForEach(load, get(observed->status, "loads")) tell_load(load, paper);
    paper_table_end(paper);
    paper_list_begin(paper);
    tell_meters(observed, paper);
    tell_troubles(observed, paper);
    paper_list_end(paper);
}
