/* jobs.c - every question to a bus goes through here, so that the site knows how many
 * are under way, on which bus, and whose answer it is. */
#include "jobs.h"

static uint32_t mark(uint32_t id, uint8_t bus, uint8_t generation)
{
    return id | (uint32_t)bus << 24 | (uint32_t)generation << 28;
}

bool job_post(struct site *site, uint8_t bus_index, const struct bus_job *job)
{
    struct bus_job marked = *job;
    marked.id = mark(job->id, bus_index, site->generation);
    if (!site->buses[bus_index] || !bus_post(site->buses[bus_index], &marked))
        return false;
    site->under_way++;
    site->bus_under_way[bus_index]++;
    return true;
}

bool job_take(struct site *site, struct bus_answer *answer)
{
    uint32_t id = answer->id;
    answer->id = id & JOB_ID_MASK;
    if (job_generation(id) != site->generation)
        return false;
    site->under_way--;
    site->bus_under_way[job_bus(id)]--;
    return true;
}

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    return job_post(context, bus_index, job);
}

static bool publish(void *context, const char *topic, const char *payload)
{
    struct site *site = context;
    return site->mqtt && mqtt_send(site->mqtt, topic, payload);
}

struct output_doors job_doors(struct site *site)
{
    return (struct output_doors){.context = site, .post = post, .publish = publish};
}
