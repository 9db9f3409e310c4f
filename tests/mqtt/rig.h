/* rig.h - a real broker and real clients around a test, each on a free port and in a
 * folder of its own; and lines to wait for. Nothing sleeps: each wait ends with what
 * it waits for, or fails the test after a generous limit. */
#ifndef TESTS_MQTT_RIG_H
#define TESTS_MQTT_RIG_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "mqtt/mqtt.h"

enum { RIG_LINE_MAX = 65536, RIG_LIMIT_MS = 30000 };

/* A child process and what it prints. */
struct child {
    pid_t pid;
    int out;
    size_t used;
    char buffer[RIG_LINE_MAX];
};

struct broker {
    struct child *child;
    int port;
    char folder[64];
};

/* Files of a test: made fresh, removed by rig_clean. */
void rig_folder(char folder[static 64]);
void rig_write(const char *folder, const char *name, const char *text);
void rig_clean(const char *folder);
void rig_shell(const char *format, ...) __attribute__((format(printf, 1, 2)));
int rig_free_port(void);

struct child *child_start(char *const argv[], bool both);
/* The next line, without its end. */
const char *child_line(struct child *child, char line[static RIG_LINE_MAX]);
/* Reads lines until one holds `part`; that line is left in `line`. */
void child_wait(struct child *child, const char *part, char line[static RIG_LINE_MAX]);
void child_signal(struct child *child, int signal);
/* A mosquitto_sub by SIGKILL: its handler of SIGTERM takes locks, and can wait for itself. */
void child_end(struct child *child, int signal);

/* `config` is added to the broker's: "" lets everybody in. */
struct broker broker_start(const char *config);
struct broker broker_start_at(int port, const char *folder);
void broker_kill(struct broker *broker);  /* -9, and gone; the folder stays */
void broker_clean(struct broker *broker); /* and the folder goes */

/* mosquitto_sub, printing "RETAINED TOPIC PAYLOAD" lines from what is retained on. */
struct child *follow(const struct broker *broker, const char *topic);
/* The same, from now on: what is retained has been passed over when it returns. */
struct child *watch(const struct broker *broker, const char *topic);
/* All that is retained below `topic` right now: `each` is called with "TOPIC PAYLOAD". */
int retained(const struct broker *broker, const char *topic,
             void (*each)(void *context, const char *topic, const char *payload), void *context);
/* What is retained at `topic`, "" if nothing. */
const char *retained_at(const struct broker *broker, const char *topic,
                        char payload[static RIG_LINE_MAX]);
/* mosquitto_pub with more arguments: broker_publish(&b, "-t a -m b -r"). */
void broker_publish(const struct broker *broker, const char *arguments);

/* A port at which the test itself plays a broker. */
struct rig_listener {
    int fd, port;
};
struct rig_listener rig_listen_at(int port);
int rig_accept(const struct rig_listener *listener);

/* Until mqtt_trouble says so. */
void rig_expect_trouble(struct mqtt *mqtt, const char *part);
void rig_until_connected(struct mqtt *mqtt);
/* This process's anonymous memory. */
long rig_anon_kib(void);

struct mqtt_settings rig_settings(const struct broker *broker);

#endif
