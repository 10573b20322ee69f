package web_test

import (
	"testing"
	"time"
)

// Two clicks enter one person, whose first password is shown: without the script
// the second click's answer says that the name is taken, and the password is lost.
func TestASecondClickSendsNothingTwice(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	b := h.browserAs(ansa, 1280)
	b.open("/people")
	b.do(`const form = document.querySelector("form[action='/people']");
		form.elements.name.value = "Pell"; form.querySelector("[value=bench]").click()`)
	b.do(`{ const button = document.querySelector("form[action='/people'] button[type=submit]"); button.click(); button.click() }`)
	b.until(`/[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}/.test(document.body.innerText)`)

	b.open("/people") // and once more after a while, as after a page that was stopped
	b.do(`globalThis.tries = 0; addEventListener("submit", (e) => { if (!e.defaultPrevented) tries++; e.preventDefault() })`)
	const press = `document.querySelector("form[action='/people'] button[type=submit]").form.dispatchEvent(new SubmitEvent("submit", {bubbles: true, cancelable: true}))`
	b.do(press)
	b.do(press)
	time.Sleep(2100 * time.Millisecond)
	b.do(press)
	b.until(`tries === 2`)
}

// "/" leads to the find field, until the person has switched single keys off in this
// browser: who dictates would press it by speaking.
func TestTheKeyToTheFindFieldCanBeSwitchedOff(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	b := h.browserAs(mirela, 1280)
	b.open("/me")
	b.until(`!document.getElementById("f-single_keys").closest("section").hidden && document.getElementById("f-single_keys").checked`)
	b.press("/")
	b.until(`document.activeElement.id === "find"`)
	b.do(`document.getElementById("f-single_keys").click()`)

	b.open("/counter")
	b.until(`document.readyState === "complete"`)
	b.press("/")
	if at := b.is(`document.activeElement.id`); at == "find" {
		t.Error("the key was switched off and leads to the find field all the same")
	}
	b.open("/me")
	b.until(`!document.getElementById("f-single_keys").closest("section").hidden && !document.getElementById("f-single_keys").checked`)
}
