//! Finds what can be changed in a file, and writes each change beside what stands there, asleep.

use quote::{ToTokens, quote};
use std::collections::BTreeMap;
use syn::visit_mut::{self, VisitMut};
use syn::{BinOp, Expr, ReturnType, Type, UnOp, parse_quote};

/// One small change.
#[derive(Debug, Clone)]
pub struct Change {
    pub number: u32,
    /// `file: function: what stands there -> what takes its place`, and which of those that read so.
    pub name: String,
}

/// Walks through a file.
pub struct Planter<'a> {
    file: &'a str,
    path: Vec<String>,
    /// How often a name was met.
    met: BTreeMap<String, u32>,
    next: u32,
    /// Those that do not build.
    dropped: &'a [u32],
    pub changes: Vec<Change>,
}

impl<'a> Planter<'a> {
    pub fn new(file: &'a str, next: u32, dropped: &'a [u32]) -> Self {
        let (path, met, changes) = (Vec::new(), BTreeMap::new(), Vec::new());
        Self { file, path, met, next, dropped, changes }
    }

    pub fn next(&self) -> u32 {
        self.next
    }

    /// The question whether a change is awake; `None` where it is known not to build.
    fn plant(&mut self, was: &str, new: &str) -> Option<Expr> {
        let number = self.next;
        self.next += 1;
        let place = self.path.join("::");
        let short = |text: &str| text.chars().take(70).collect::<String>();
        let plain = format!("{}: {place}: {} -> {}", self.file, short(was), short(new));
        let count = self.met.entry(plain.clone()).or_default();
        *count += 1;
        let name = if *count == 1 { plain } else { format!("{plain} ({count})") };
        if self.dropped.contains(&number) {
            return None;
        }
        self.changes.push(Change { number, name });
        Some(parse_quote!(crate::mutant::awake(#number)))
    }

    /// `if awake(..) { other } else { ... } else { as it was }`.
    fn instead(&mut self, was: &str, others: Vec<(String, Expr)>, original: &Expr) -> Option<Expr> {
        let mut out: Expr = parse_quote!({ #original });
        let mut planted = false;
        for (new, other) in others.into_iter().rev() {
            if let Some(awake) = self.plant(was, &new) {
                out = parse_quote!(if #awake { #other } else { #out });
                planted = true;
            }
        }
        planted.then(|| parse_quote!((#out)))
    }

    fn binary(&mut self, expr: &mut Expr, was: &str) {
        let Expr::Binary(binary) = &*expr else { return };
        let (left, right, op) = (&binary.left, &binary.right, binary.op);
        if matches!(op, BinOp::And(_) | BinOp::Or(_)) {
            let and = matches!(op, BinOp::And(_));
            let new = if and { "||" } else { "&&" };
            let Some(awake) = self.plant(was, new) else { return };
            *expr = if and {
                parse_quote!({ let m = #awake; if (#left) ^ m { #right } else { m } })
            } else {
                parse_quote!({ let m = !#awake; if (#left) ^ m { #right } else { m } })
            };
            return;
        }
        let others = others(&op);
        if others.is_empty() {
            return;
        }
        let compares = others[0].0 == "compare";
        let pairs = others
            .iter()
            .map(|(_, token)| {
                let token: BinOp = syn::parse_str(token).expect("an operator");
                let other: Expr =
                    if compares { parse_quote!(*l #token *r) } else { parse_quote!(l #token r) };
                (token.to_token_stream().to_string(), other)
            })
            .collect();
        let same: Expr = if compares { parse_quote!(*l #op *r) } else { parse_quote!(l #op r) };
        let Some(chosen) = self.instead(was, pairs, &same) else { return };
        *expr = if compares {
            parse_quote!(match (&(#left), &(#right)) { (l, r) => #chosen })
        } else {
            parse_quote!(match (#left, #right) { (l, r) => #chosen })
        };
    }

    fn assigned(&mut self, expr: &mut Expr, was: &str) {
        let Expr::Binary(binary) = &*expr else { return };
        let (left, right) = (&binary.left, &binary.right);
        let other = match binary.op {
            BinOp::AddAssign(_) => "-=",
            BinOp::SubAssign(_) => "+=",
            BinOp::MulAssign(_) => "/=",
            BinOp::BitAndAssign(_) => "|=",
            BinOp::BitOrAssign(_) => "&=",
            BinOp::BitXorAssign(_) => "|=",
            BinOp::ShlAssign(_) => ">>=",
            BinOp::ShrAssign(_) => "<<=",
            _ => return,
        };
        let token: BinOp = syn::parse_str(other).expect("an operator");
        let Some(awake) = self.plant(was, other) else { return };
        let same = &binary.op;
        *expr = parse_quote!({ if #awake { #left #token #right; } else { #left #same #right; } });
    }

    fn method(&mut self, expr: &mut Expr, was: &str) {
        let Expr::MethodCall(call) = &*expr else { return };
        let other = match call.method.to_string().as_str() {
            "max" if call.args.len() == 1 => "min",
            "min" if call.args.len() == 1 => "max",
            "saturating_add" => "saturating_sub",
            "saturating_sub" => "saturating_add",
            "wrapping_add" => "wrapping_sub",
            "wrapping_sub" => "wrapping_add",
            "saturating_mul" => "saturating_add",
            "is_some_and" => "is_none_or",
            "is_none_or" => "is_some_and",
            _ => return,
        };
        let Some(awake) = self.plant(was, other) else { return };
        if other.starts_with("is_") {
            let (receiver, asks) = (&call.receiver, &call.args);
            *expr = if other == "is_none_or" {
                parse_quote!(#receiver.map_or(#awake, #asks))
            } else {
                parse_quote!(#receiver.map_or(!#awake, #asks))
            };
            return;
        }
        let name = syn::Ident::new(other, call.method.span());
        let mut changed = call.clone();
        changed.method = name;
        if call.args.iter().all(|arg| !matches!(arg, Expr::Closure(_))) && is_small(&call.receiver)
        {
            *expr = parse_quote!((if #awake { #changed } else { #call }));
        } else {
            // What stands before and in it is worked out once.
            let (receiver, args, same) = (&call.receiver, &call.args, &call.method);
            let other = &changed.method;
            *expr = parse_quote!(match (#receiver, #args) {
                (l, r) => if #awake { l.#other(r) } else { l.#same(r) }
            });
        }
    }

    fn body(&mut self, block: &mut syn::Block, signature: &syn::Signature) {
        let is_const = signature.constness.is_some();
        let values: Vec<(&str, Expr)> = match &signature.output {
            ReturnType::Default => vec![("()", parse_quote!({}))],
            ReturnType::Type(_, of) => values(of),
        };
        // While compiling no trait is asked.
        for (text, value) in values.into_iter().filter(|value| !is_const || value.0 != "default") {
            if let Some(awake) = self.plant("the body", text) {
                let first: syn::Stmt = if text == "()" {
                    parse_quote!(if #awake { return; })
                } else {
                    parse_quote!(if #awake { return #value; })
                };
                block.stmts.insert(0, first);
            }
        }
    }

    fn named(&mut self, name: String, visit: impl FnOnce(&mut Self)) {
        self.path.push(name);
        visit(self);
        self.path.pop();
    }
}

/// Written twice it stays small.
fn is_small(expr: &Expr) -> bool {
    matches!(expr, Expr::Path(_) | Expr::Field(_) | Expr::Lit(_))
}

fn others(op: &BinOp) -> Vec<(&'static str, &'static str)> {
    let compare = |all: &[&'static str]| all.iter().map(|token| ("compare", *token)).collect();
    let count = |all: &[&'static str]| all.iter().map(|token| ("count", *token)).collect();
    match op {
        BinOp::Eq(_) => compare(&["!="]),
        BinOp::Ne(_) => compare(&["=="]),
        BinOp::Lt(_) => compare(&["==", ">", "<="]),
        BinOp::Gt(_) => compare(&["==", "<", ">="]),
        BinOp::Le(_) => compare(&[">"]),
        BinOp::Ge(_) => compare(&["<"]),
        BinOp::Add(_) => count(&["-", "*"]),
        BinOp::Sub(_) => count(&["+", "/"]),
        BinOp::Mul(_) => count(&["+", "/"]),
        BinOp::Div(_) => count(&["%", "*"]),
        BinOp::Rem(_) => count(&["/", "+"]),
        BinOp::BitAnd(_) => count(&["|", "^"]),
        BinOp::BitOr(_) => count(&["&", "^"]),
        BinOp::BitXor(_) => count(&["|", "&"]),
        BinOp::Shl(_) => count(&[">>"]),
        BinOp::Shr(_) => count(&["<<"]),
        _ => Vec::new(),
    }
}

fn values(of: &Type) -> Vec<(&'static str, Expr)> {
    let text = of.to_token_stream().to_string();
    match text.as_str() {
        "bool" => vec![("true", parse_quote!(true)), ("false", parse_quote!(false))],
        "i8" | "i16" | "i32" | "i64" | "i128" => {
            vec![("0", parse_quote!(0)), ("1", parse_quote!(1)), ("-1", parse_quote!(-1))]
        }
        "u8" | "u16" | "u32" | "u64" | "u128" | "usize" => {
            vec![("0", parse_quote!(0)), ("1", parse_quote!(1))]
        }
        _ if text.starts_with("Option <") => vec![("None", parse_quote!(None))],
        _ if text.starts_with("impl") || text.starts_with('&') || text == "!" => Vec::new(),
        _ => vec![("default", parse_quote!(Default::default()))],
    }
}

fn holds_let(expr: &Expr) -> bool {
    match expr {
        Expr::Let(_) => true,
        Expr::Binary(binary) => holds_let(&binary.left) || holds_let(&binary.right),
        _ => false,
    }
}

/// A test, or what no test of a computer builds: it cannot be asked.
fn is_left_out(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().filter(|one| one.path().is_ident("cfg")).any(|one| {
        let condition = one.meta.to_token_stream().to_string();
        condition.contains("test") || condition.contains("\"defmt\"")
    })
}

impl VisitMut for Planter<'_> {
    fn visit_item_mod_mut(&mut self, item: &mut syn::ItemMod) {
        if !is_left_out(&item.attrs) {
            visit_mut::visit_item_mod_mut(self, item);
        }
    }

    fn visit_item_impl_mut(&mut self, item: &mut syn::ItemImpl) {
        let name = item.self_ty.to_token_stream().to_string().replace(' ', "");
        if !is_left_out(&item.attrs) {
            self.named(name, |this| visit_mut::visit_item_impl_mut(this, item));
        }
    }

    fn visit_impl_item_fn_mut(&mut self, item: &mut syn::ImplItemFn) {
        self.named(item.sig.ident.to_string(), |this| {
            visit_mut::visit_block_mut(this, &mut item.block);
            this.body(&mut item.block, &item.sig);
        });
    }

    fn visit_item_fn_mut(&mut self, item: &mut syn::ItemFn) {
        if is_left_out(&item.attrs) {
            return;
        }
        self.named(item.sig.ident.to_string(), |this| {
            visit_mut::visit_block_mut(this, &mut item.block);
            this.body(&mut item.block, &item.sig);
        });
    }

    // What is worked out while compiling cannot be changed at run time.
    fn visit_item_const_mut(&mut self, _: &mut syn::ItemConst) {}
    fn visit_impl_item_const_mut(&mut self, _: &mut syn::ImplItemConst) {}
    fn visit_item_static_mut(&mut self, _: &mut syn::ItemStatic) {}
    fn visit_type_mut(&mut self, _: &mut Type) {}
    fn visit_pat_mut(&mut self, _: &mut syn::Pat) {}
    fn visit_generic_argument_mut(&mut self, _: &mut syn::GenericArgument) {}
    fn visit_expr_repeat_mut(&mut self, expr: &mut syn::ExprRepeat) {
        self.visit_expr_mut(&mut expr.expr);
    }
    fn visit_expr_const_mut(&mut self, _: &mut syn::ExprConst) {}

    fn visit_expr_mut(&mut self, expr: &mut Expr) {
        let was = quote!(#expr).to_string();
        visit_mut::visit_expr_mut(self, expr);
        match expr {
            Expr::Binary(binary) if matches!(binary.op, BinOp::And(_) | BinOp::Or(_)) => {
                if !holds_let(expr) {
                    self.binary(expr, &was);
                }
            }
            Expr::Binary(_) => {
                self.assigned(expr, &was);
                self.binary(expr, &was);
            }
            Expr::Unary(unary) if matches!(unary.op, UnOp::Not(_) | UnOp::Neg(_)) => {
                if matches!(&*unary.expr, Expr::Lit(_)) {
                    return;
                }
                if let Some(awake) = self.plant(&was, "without its sign") {
                    let (inner, op) = (&unary.expr, unary.op);
                    *expr = parse_quote!(match #inner { l => if #awake { l } else { #op l } });
                }
            }
            Expr::MethodCall(_) => self.method(expr, &was),
            _ => {}
        }
    }

    fn visit_arm_mut(&mut self, arm: &mut syn::Arm) {
        visit_mut::visit_arm_mut(self, arm);
        if let Some((_, guard)) = &mut arm.guard
            && !holds_let(guard)
        {
            let was = quote!(#guard).to_string();
            for (new, asleep) in [("true", true), ("false", false)] {
                if let Some(awake) = self.plant(&was, new) {
                    **guard = if asleep {
                        parse_quote!((#awake || #guard))
                    } else {
                        parse_quote!((!#awake && #guard))
                    };
                }
            }
        }
    }
}
