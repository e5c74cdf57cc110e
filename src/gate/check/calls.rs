//! Types of function calls.

use super::super::Type;
use super::super::functions::{Form, Function, Takes};
use super::super::tree::{Kind, Node};
use super::{Checker, Shelter, is_today, words};
use crate::tongue::{say, say_n, word};
use crate::units::Dimension;

impl Checker<'_> {
    pub(super) fn call(
        &mut self,
        function: &'static Function,
        arguments: &mut [Node],
        at: usize,
    ) -> Option<Type> {
        match function.form {
            Form::Least | Form::Most | Form::Sum | Form::Count => self.fold(function, arguments, at),
            Form::All | Form::Any => {
                self.each(function, arguments, at);
                Some(Type::Bool)
            }
            Form::Given => self.given(function, arguments, at),
            Form::Plain { takes, gives, .. } => {
                if arguments.len() != takes.len() {
                    return self.wrong_arguments(function, arguments, at);
                }
                for (argument, Takes { dimension, words: what, .. }) in arguments.iter_mut().zip(takes) {
                    let place = argument.at;
                    if let Some(ty) = self.node(argument).filter(|ty| *ty != Type::Quantity(*dimension)) {
                        let message = say!(
                            "{function} wants {what} here, got {got}",
                            function = function.name,
                            what = word(what),
                            got = words(&ty)
                        );
                        self.problem(
                            "wrong-arguments",
                            place,
                            message,
                            Some(say!("write {example}", example = function.written)),
                        );
                    }
                }
                self.sides(function, takes, arguments);
                Some(Type::Quantity(gives))
            }
        }
    }

    fn wrong_arguments(&mut self, function: &Function, arguments: &mut [Node], at: usize) -> Option<Type> {
        for argument in arguments.iter_mut().filter(|a| !matches!(a.kind, Kind::Id(_) | Kind::Name(_))) {
            self.node(argument);
        }
        let message = say_n!(
            arguments.len(),
            "{function} does not take {n} argument",
            "{function} does not take {n} arguments",
            function = function.name
        );
        self.problem(
            "wrong-arguments",
            at,
            message,
            Some(say!("write {example}", example = function.written)),
        );
        None
    }

    /// `least most sum count`: of one list, by its name.
    fn fold(&mut self, function: &'static Function, arguments: &mut [Node], at: usize) -> Option<Type> {
        let [argument] = arguments else {
            return self.wrong_arguments(function, arguments, at);
        };
        let place = argument.at;
        let hint = Some(say!("write {example}", example = function.written));
        let Some(name) = argument.name().filter(|name| !is_today(name)).cloned() else {
            if !matches!(argument.kind, Kind::Wrong(_)) {
                self.problem(
                    "wrong-arguments",
                    place,
                    say!("{function} takes the name of a list", function = function.name),
                    hint,
                );
            }
            return None;
        };
        let known = match self.scope.look_up(&name) {
            Ok(known) => known,
            Err(missed) => {
                self.missed(&name, place, missed);
                return None;
            }
        };
        argument.ty = Some(known.ty.clone());
        argument.over = Some(known.over.unwrap_or_default());
        let Type::List(item) = known.ty else {
            let message = say!(
                "{function} takes a list, and {name} is {got}",
                function = function.name,
                name = name.join("."),
                got = words(&known.ty)
            );
            self.problem("wrong-arguments", place, message, hint);
            return None;
        };
        let wrong = match (function.form, &*item) {
            (Form::Count, Type::Bool) => {
                Some(say!("it would be read as the number of yeses; count another field of the items"))
            }
            (Form::Count, _) => return Some(Type::Quantity(Dimension::Number)),
            (Form::Sum, Type::Quantity(Dimension::Temperature)) => {
                Some(say!("temperatures are points and have no sum"))
            }
            (Form::Sum | Form::Least | Form::Most, Type::Quantity(_)) => None,
            (Form::Least | Form::Most, Type::Date) => None,
            (Form::Least | Form::Most | Form::Sum, Type::Bool) => {
                Some(say!("write all(...) or any(...) for yes and no"))
            }
            (Form::Least | Form::Most, Type::Span) => Some(say!("months and days have no order")),
            _ => Some(say!("only quantities are taken")),
        };
        if let Some(why) = wrong {
            let message = say!(
                "{function} does not take {got}",
                function = function.name,
                got = words(&Type::List(item))
            );
            self.problem("wrong-arguments", place, message, Some(why.to_owned()));
            return None;
        }
        Some(*item)
    }

    /// `all any`: of a condition in which lists stand for their items' values.
    fn each(&mut self, function: &'static Function, arguments: &mut [Node], at: usize) {
        let [argument] = arguments else {
            self.wrong_arguments(function, arguments, at);
            return;
        };
        if self.shelter == Shelter::Each {
            self.problem("wrong-arguments", at, say!("all and any do not stand in each other"), None);
            return;
        }
        let before = self.problems.len();
        self.shelter = Shelter::Each;
        self.bool(argument, function.name);
        self.shelter = Shelter::None;
        let lists = std::mem::take(&mut self.each);
        if self.problems.len() > before {
            return;
        }
        let Some((first, over)) = lists.first() else {
            let message = say!(
                "{function} takes a list, and there is none in this condition",
                function = function.name
            );
            self.problem(
                "wrong-arguments",
                argument.at,
                message,
                Some(say!("write {example}", example = function.written)),
            );
            return;
        };
        if let Some((other, _)) = lists.iter().skip(1).find(|(_, runs)| runs != over || over.is_none()) {
            let message = say!(
                "{first} and {other} do not run over the same items",
                first = first.join("."),
                other = other.join(".")
            );
            self.problem(
                "wrong-arguments",
                argument.at,
                message,
                Some(say!("fold one of them: least(...), most(...)").to_owned()),
            );
        }
    }

    fn given(&mut self, function: &'static Function, arguments: &mut [Node], at: usize) -> Option<Type> {
        let (first, instead) = match arguments {
            [first] => (first, None),
            [first, instead] => (first, Some(instead)),
            _ => return self.wrong_arguments(function, arguments, at),
        };
        let place = first.at;
        let Some(name) = first.name().filter(|name| !is_today(name)).cloned() else {
            if !matches!(first.kind, Kind::Wrong(_)) {
                let hint = Some(say!("write {example}", example = function.written));
                self.problem("wrong-arguments", place, say!("given takes the name of a step or field"), hint);
            }
            return None;
        };
        let known = match self.scope.look_up(&name) {
            Ok(known) => known,
            Err(missed) => {
                self.missed(&name, place, missed);
                return None;
            }
        };
        let written = name.join(".");
        if let Type::List(_) = known.ty {
            let hint = Some(say!("write count({written}) > 0", written));
            self.problem(
                "wrong-arguments",
                place,
                say!("given takes one answer, and {written} is a list", written),
                hint,
            );
            return None;
        }
        first.ty = Some(known.ty.clone());
        let Some(instead) = instead else {
            return Some(Type::Bool);
        };
        self.instead(&written, known.ty, instead)
    }

    /// The second argument of `given`: a literal of the kind of the first.
    fn instead(&mut self, written: &str, ty: Type, instead: &mut Node) -> Option<Type> {
        let at = instead.at;
        if ty == Type::Text {
            self.text(written, at);
            return None;
        }
        match &instead.kind {
            Kind::Id(id) => {
                let Type::Choice { of, offered } = &ty else {
                    self.problem(
                        "wrong-type",
                        at,
                        say!("{written} is {what}, and \"{id}\" is a choice", written, what = words(&ty), id),
                        None,
                    );
                    return None;
                };
                if !offered.contains(id) {
                    let hint = Some(say!("it offers {choices}", choices = offered.join(", ")));
                    self.problem("unknown-choice", at, say!("{of} does not offer \"{id}\"", of, id), hint);
                    return None;
                }
                instead.ty = Some(ty.clone());
                Some(ty)
            }
            Kind::Bool(_) | Kind::Quantity(_) | Kind::Date(_) | Kind::Span(..) => {
                let other = self.node(instead)?;
                if other != ty {
                    self.problem(
                        "wrong-type",
                        at,
                        say!(
                            "{written} is {what}, got {got}",
                            written,
                            what = words(&ty),
                            got = words(&other)
                        ),
                        None,
                    );
                    return None;
                }
                Some(ty)
            }
            Kind::Wrong(_) => None,
            Kind::Name(_)
            | Kind::Not(_)
            | Kind::And(_)
            | Kind::Or(_)
            | Kind::Compare(..)
            | Kind::Between(..)
            | Kind::Negate(_)
            | Kind::Arithmetic(..)
            | Kind::Call(..) => {
                let hint = Some(say!("write the value itself: given(fuel, 0 L)").to_owned());
                self.problem("wrong-arguments", at, say!("what given takes instead is a literal"), hint);
                None
            }
        }
    }
}
