// Runs in the page that is tested, never in a page that is shipped: says what a reader would stumble over.
const faults = [];
const luminance = ([r, g, b]) => {
    const linear = [r, g, b].map((byte) => {
        const share = byte / 255;
        return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
};
const channels = (colour) => (colour.match(/[\d.]+/g) || [255, 255, 255]).map(Number);
const clear = (colour) => colour === "none" || /, 0\)$/.test(colour);
const contrast = (one, other) => {
    const [a, b] = [luminance(one) + 0.05, luminance(other) + 0.05];
    return Math.max(a / b, b / a);
};
const ground = (element, rect) => {
    if (!element.ownerSVGElement) {
        for (let on = element; on; on = on.parentElement) {
            const paper = getComputedStyle(on).backgroundColor;
            if (!clear(paper)) return channels(paper);
        }
        return [255, 255, 255];
    }
    // The topmost filled shape under the middle of the words.
    const under = document.elementsFromPoint((rect.left + rect.right) / 2, (rect.top + rect.bottom) / 2);
    for (const shape of under) {
        if (!shape.ownerSVGElement || shape.tagName === "text") continue;
        const fill = getComputedStyle(shape).fill;
        if (!clear(fill) && shape.tagName !== "line" && shape.tagName !== "polyline") return channels(fill);
    }
    return [255, 255, 255];
};

const seen = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
let least = Infinity;
while (walker.nextNode()) {
    const node = walker.currentNode;
    const words = node.nodeValue.trim();
    const parent = node.parentElement;
    if (!words || ["SCRIPT", "STYLE", "DESC", "desc", "title"].includes(parent.tagName)) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const svg = parent.ownerSVGElement;
    const box = (svg || parent.closest("td, th, .verdict, .about, .foot, .words, .reasons, p, header")).getBoundingClientRect();
    for (const rect of range.getClientRects()) {
        if (rect.width < 0.5) continue;
        if (rect.left < box.left - 1 || rect.right > box.right + 1 || rect.top < box.top - 2 || rect.bottom > box.bottom + 2) {
            faults.push(`"${words}" sticks out of its box`);
        }
        if (rect.left < 0 || rect.right > innerWidth) faults.push(`"${words}" sticks out of the page`);
        const style = getComputedStyle(parent);
        const ink = channels(svg ? style.fill : style.color);
        const stands = contrast(ink, ground(parent, rect));
        least = Math.min(least, stands);
        if (stands < 7) faults.push(`"${words}" has a contrast of ${stands.toFixed(1)}`);
        if (!svg && Math.max(...ink.slice(0, 3)) > 0) faults.push(`"${words}" is coloured`);
        // A quarter of the line stays free above and below the letters.
        const lead = rect.height * 0.25;
        seen.push({ words, left: rect.left, right: rect.right, top: rect.top + lead, bottom: rect.bottom - lead });
    }
}
for (let i = 0; i < seen.length; i++) {
    for (let j = i + 1; j < seen.length; j++) {
        const [a, b] = [seen[i], seen[j]];
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const tall = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (wide > 1 && tall > 1) faults.push(`"${a.words}" lies over "${b.words}"`);
    }
}
const report = JSON.stringify({ faults, texts: seen.length, least, wide: document.documentElement.scrollWidth - innerWidth });
document.documentElement.innerHTML = "<body><pre></pre></body>";
document.querySelector("pre").textContent = report;
