/* The door on a board: semihosting; and what starts the program there. */
#include "door.h"
#include <stdint.h>

enum { SYS_OPEN = 1, SYS_WRITE0 = 4, SYS_WRITE = 5, SYS_READ = 6, SYS_GET_CMDLINE = 0x15, SYS_EXIT = 0x18 };

static intptr_t host(int operation, const void *block) {
    register intptr_t r0 __asm__("r0") = operation;
    register const void *r1 __asm__("r1") = block;
    __asm__ volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

static void finish(int well) {
    host(SYS_EXIT, (const void *)(well ? 0x20026 : 0x20023));
    for (;;) {
    }
}

static size_t length(const char *text) {
    size_t n = 0;
    while (text[n]) n++;
    return n;
}

static intptr_t open(const char *path, uintptr_t mode) {
    const uintptr_t block[3] = {(uintptr_t)path, mode, length(path)};
    return host(SYS_OPEN, block);
}

void door_print(const char *text) {
    static intptr_t console;
    if (!console) console = open(":tt", 4);
    const uintptr_t block[3] = {(uintptr_t)console, (uintptr_t)text, length(text)};
    host(SYS_WRITE, block);
}

size_t door_read(void *to, size_t bytes) {
    static intptr_t file;
    if (!file) {
        char line[256] = "";
        const uintptr_t where[2] = {(uintptr_t)line, sizeof line};
        host(SYS_GET_CMDLINE, where);
        const char *path = line;
        while (*path && *path != ' ') path++;
        file = open(*path ? path + 1 : path, 1);
        if (file < 0) finish(0);
    }
    const uintptr_t block[3] = {(uintptr_t)file, (uintptr_t)to, bytes};
    return bytes - (size_t)host(SYS_READ, block);
}

extern uint32_t data_from, data_start, data_end, bss_start, bss_end, stack_top;

/* How much of the stack may be used below what the program keeps: as `guide/c.md` says. */
enum { STACK = 12 * 1024, UNUSED = 0x5eed5eed };

static void stack_is_within_bounds(void) {
    const uint32_t *at = &bss_end;
    uintptr_t used;
    while (*at == UNUSED) at++;
    used = (uintptr_t)&stack_top - (uintptr_t)at;
    if (used <= STACK) return;
    char text[9] = "00000000";
    for (int i = 7; i >= 0; i--, used /= 16) text[i] = "0123456789abcdef"[used % 16];
    door_print("more stack than told: 0x");
    door_print(text);
    door_print("\n");
    finish(0);
}

static void reset(void) {
    uint32_t *from = &data_from;
    for (uint32_t *to = &data_start; to < &data_end; to++) *to = *from++;
    for (uint32_t *to = &bss_start; to < &bss_end; to++) *to = 0;
    for (uint32_t *to = &bss_end; to < (uint32_t *)__builtin_frame_address(0) - 64; to++) *to = UNUSED;
    int well = run() == 0;
    stack_is_within_bounds();
    finish(well);
}

static void fault(void) {
    door_print("fault\n");
    finish(0);
}

__attribute__((section(".vectors"), used)) static const void *const vectors[16] = {
    &stack_top, (const void *)reset, (const void *)fault, (const void *)fault,
    (const void *)fault, (const void *)fault, (const void *)fault,
};
