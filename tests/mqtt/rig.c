/* rig.c - processes, pipes and a broker. */
#include "rig.h"

#include <arpa/inet.h>
#include <check.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { LOOK_MS = 5 };

/* ---- files ---------------------------------------------------------------------- */

void rig_folder(char folder[static 64])
{
    snprintf(folder, 64, "/tmp/sluice-mqtt-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    chmod(folder, 0755); /* the broker gives up root's rights */
}

void rig_write(const char *folder, const char *name, const char *text)
{
    char path[256];
    snprintf(path, sizeof(path), "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    ck_assert_ptr_nonnull(file);
    ck_assert_int_ge(fputs(text, file), 0);
    fclose(file);
}

void rig_shell(const char *format, ...)
{
    char command[2048];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(command, sizeof(command), format, arguments);
    va_end(arguments);
    ck_assert_msg(system(command) == 0, "failed: %s", command);
}

void rig_clean(const char *folder)
{
    rig_shell("rm -r '%s'", folder);
}

int rig_free_port(void)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof(address);
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    ck_assert_int_eq(bind(fd, (struct sockaddr *)&address, length), 0);
    ck_assert_int_eq(getsockname(fd, (struct sockaddr *)&address, &length), 0);
    close(fd);
    return ntohs(address.sin_port);
}

/* ---- children --------------------------------------------------------------------- */

struct child *child_start(char *const argv[], bool both)
{
    int pipes[2];
    struct child *child = calloc(1, sizeof(*child));
    ck_assert_int_eq(pipe2(pipes, O_CLOEXEC), 0);
    child->pid = fork();
    ck_assert_int_ge(child->pid, 0);
    if (child->pid == 0) {
        dup2(pipes[1], STDOUT_FILENO);
        if (both)
            dup2(pipes[1], STDERR_FILENO);
        prctl(PR_SET_PDEATHSIG, SIGKILL); /* a test that fails leaves nothing running */
        execvp(argv[0], argv);
        _exit(127);
    }
    close(pipes[1]);
    child->out = pipes[0];
    return child;
}

static void read_more(struct child *child)
{
    struct pollfd ready = {.fd = child->out, .events = POLLIN};
    ck_assert_msg(child->used < sizeof(child->buffer) - 1, "line too long");
    ck_assert_msg(poll(&ready, 1, RIG_LIMIT_MS) == 1, "nothing came in %d ms; so far \"%.*s\"",
                  RIG_LIMIT_MS, (int)child->used, child->buffer);
    ssize_t got =
        read(child->out, child->buffer + child->used, sizeof(child->buffer) - child->used);
    ck_assert_msg(got > 0, "the process ended");
    child->used += (size_t)got;
}

const char *child_line(struct child *child, char line[static RIG_LINE_MAX])
{
    char *end;
    while (!(end = memchr(child->buffer, '\n', child->used)))
        read_more(child);
    size_t length = (size_t)(end - child->buffer);
    memcpy(line, child->buffer, length);
    line[length] = '\0';
    child->used -= length + 1;
    memmove(child->buffer, end + 1, child->used);
    return line;
}

void child_wait(struct child *child, const char *part, char line[static RIG_LINE_MAX])
{
    while (!strstr(child_line(child, line), part))
        ;
}

void child_signal(struct child *child, int signal)
{
    ck_assert_int_eq(kill(child->pid, signal), 0);
}

void child_end(struct child *child, int signal)
{
    kill(child->pid, signal);
    if (signal != SIGKILL)
        kill(child->pid, SIGCONT);
    waitpid(child->pid, NULL, 0);
    close(child->out);
    free(child);
}

/* ---- the broker --------------------------------------------------------------------- */

struct broker broker_start_at(int port, const char *folder)
{
    struct broker broker = {.port = port};
    char config[128];
    char *line = malloc(RIG_LINE_MAX);
    snprintf(broker.folder, sizeof(broker.folder), "%s", folder);
    snprintf(config, sizeof(config), "%s/mosquitto.conf", folder);
    broker.child = child_start((char *[]){"/usr/sbin/mosquitto", "-c", config, NULL}, true);
    child_wait(broker.child, " running", line);
    free(line);
    return broker;
}

struct broker broker_start(const char *config)
{
    char folder[64], text[2048];
    int port = rig_free_port();
    rig_folder(folder);
    snprintf(text, sizeof(text), "listener %d 127.0.0.1\n%s%s", port,
             strstr(config, "allow_anonymous") ? "" : "allow_anonymous true\n", config);
    rig_write(folder, "mosquitto.conf", text);
    return broker_start_at(port, folder);
}

void broker_kill(struct broker *broker)
{
    child_end(broker->child, SIGKILL);
    broker->child = NULL;
}

void broker_clean(struct broker *broker)
{
    if (broker->child) /* a SIGTERM that comes before its loop begins is lost in it */
        child_end(broker->child, SIGKILL);
    rig_clean(broker->folder);
}

struct rig_listener rig_listen_at(int port)
{
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)port),
                                  .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    struct rig_listener listener = {.port = port,
                                    .fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)};
    int yes = 1;
    setsockopt(listener.fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
    ck_assert_int_eq(bind(listener.fd, (struct sockaddr *)&address, sizeof(address)), 0);
    ck_assert_int_eq(listen(listener.fd, 8), 0);
    return listener;
}

int rig_accept(const struct rig_listener *listener)
{
    struct pollfd ready = {.fd = listener->fd, .events = POLLIN};
    ck_assert_int_eq(poll(&ready, 1, RIG_LIMIT_MS), 1);
    return accept4(listener->fd, NULL, NULL, SOCK_CLOEXEC);
}

void rig_expect_trouble(struct mqtt *mqtt, const char *part)
{
    char text[MQTT_VALUE_MAX];
    for (int looks = 0; looks < RIG_LIMIT_MS / LOOK_MS; looks++) {
        mqtt_trouble(mqtt, text);
        if (strstr(text, part))
            return;
        poll(NULL, 0, LOOK_MS);
    }
    ck_abort_msg("\"%s\" is not in \"%s\"", part, text);
}

void rig_until_connected(struct mqtt *mqtt)
{
    int looks = 0;
    while (!mqtt_connected(mqtt) && looks++ < RIG_LIMIT_MS / LOOK_MS)
        poll(NULL, 0, LOOK_MS);
    ck_assert(mqtt_connected(mqtt));
}

long rig_anon_kib(void)
{
    char text[256];
    long kib = -1;
    FILE *file = fopen("/proc/self/status", "r");
    ck_assert_ptr_nonnull(file);
    while (kib < 0 && fgets(text, sizeof(text), file))
        if (sscanf(text, "RssAnon: %ld", &kib) != 1)
            kib = -1;
    fclose(file);
    return kib;
}

/* ---- other clients ------------------------------------------------------------------- */

/* Orders are kept out: they are not what the house says, and some are huge. */
static struct child *subscriber(const struct broker *broker, const char *topic)
{
    char port[8];
    snprintf(port, sizeof(port), "%d", broker->port);
    char *argv[] = {"mosquitto_sub",
                    "-p",
                    port,
                    "-q",
                    "2",
                    "-F",
                    "%r %t %p",
                    "-T",
                    "+/5/+/+/+/set",
                    "-t",
                    (char *)(uintptr_t)topic,
                    "-t",
                    "rig/end",
                    NULL};
    return child_start(argv, false);
}

/* Retained messages come by subscription, in order: the mark comes last. */
static void put_mark(const struct broker *broker)
{
    broker_publish(broker, "-t rig/end -m . -r");
}

struct child *follow(const struct broker *broker, const char *topic)
{
    return subscriber(broker, topic);
}

struct child *watch(const struct broker *broker, const char *topic)
{
    put_mark(broker);
    char *line = malloc(RIG_LINE_MAX);
    struct child *child = subscriber(broker, topic);
    child_wait(child, "1 rig/end", line);
    free(line);
    return child;
}

int retained(const struct broker *broker, const char *topic,
             void (*each)(void *context, const char *topic, const char *payload), void *context)
{
    put_mark(broker);
    char *line = malloc(RIG_LINE_MAX);
    struct child *child = subscriber(broker, topic);
    int count = 0;
    while (strcmp(child_line(child, line), "1 rig/end .") != 0) {
        char *payload = strchr(line + 2, ' ');
        ck_assert_msg(line[0] == '1', "not retained: %s", line);
        *payload++ = '\0';
        each(context, line + 2, payload);
        count++;
    }
    child_end(child, SIGKILL);
    free(line);
    return count;
}

static void keep(void *context, const char *topic, const char *payload)
{
    (void)topic;
    snprintf(context, RIG_LINE_MAX, "%s", payload);
}

const char *retained_at(const struct broker *broker, const char *topic,
                        char payload[static RIG_LINE_MAX])
{
    payload[0] = '\0';
    retained(broker, topic, keep, payload);
    return payload;
}

void broker_publish(const struct broker *broker, const char *arguments)
{
    rig_shell("mosquitto_pub -p %d -q 2 %s", broker->port, arguments);
}

struct mqtt_settings rig_settings(const struct broker *broker)
{
    return (struct mqtt_settings){.enabled = true,
                                  .host = "127.0.0.1",
                                  .port = broker->port,
                                  .domain = "homie",
                                  .device = "sluice",
                                  .client_id = "sluice",
                                  .keep_alive_ms = 60000,
                                  .accept_orders = true};
}
