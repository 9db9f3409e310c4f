/* shared.c - made before there is a second thread, freed after there is none. */
#include "mqtt/shared.h"

#include <stdarg.h>
#include <stdlib.h>
#include <time.h>

#include "core/text.h"

static void init_locks(struct mqtt *mqtt)
{
    pthread_condattr_t attributes;
    pthread_mutex_init(&mqtt->mutex, NULL);
    pthread_mutex_init(&mqtt->detail_mutex, NULL);
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    pthread_cond_init(&mqtt->changed, &attributes);
    pthread_condattr_destroy(&attributes);
}

struct mqtt *shared_new(const struct mqtt_settings *settings, struct homie *homie,
                        const char *record_path, struct mailbox *inbox)
{
    struct mqtt *mqtt = calloc(1, sizeof(*mqtt));
    if (!mqtt)
        return NULL;
    mqtt->settings = *settings;
    mqtt->inbox = inbox;
    mqtt->homie = homie;
    struct text path = text_in(mqtt->record.path, sizeof(mqtt->record.path));
    text_add(&path, "%s", record_path);
    shared_trouble(mqtt, "%s:%d: not connected yet", settings->host, settings->port);
    init_locks(mqtt);
    return mqtt;
}

void shared_free(struct mqtt *mqtt)
{
    pthread_cond_destroy(&mqtt->changed);
    pthread_mutex_destroy(&mqtt->mutex);
    pthread_mutex_destroy(&mqtt->detail_mutex);
    homie_free(mqtt->homie);
    free(mqtt);
}

void shared_trouble(struct mqtt *mqtt, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    struct text text = text_in(mqtt->trouble, sizeof(mqtt->trouble));
    text_add_list(&text, format, arguments);
    va_end(arguments);
}
